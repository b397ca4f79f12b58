-- One row per record that no receipt is asked for, though the books know of none: a count that
-- found more than was ever there, and nothing of it has been used since; a use from before the
-- records begin, of what was counted then; and a use of what was bought by then, nobody knows how
-- much of it: its size is asked for.
-- @key row_id
with opened as (
    select distinct lot.flow from work.lot where lot.opening
)

select row_id from work.found
where beyond > 0 and -short_id(row_id, flow) not in (
        select flow.lot_id from work.flow
        where flow.use_id not in (select short_id(row_id, flow) from work.found where lost > 0)
    )
union
select use.row_id
from work.missing
join work.use on use.use_id = missing.ref
join opened on opened.flow = missing.flow
cross join settings.shop
where missing.on_date < shop.start
union
select use.row_id
from work.missing
join work.use on use.use_id = missing.ref
join work.lot on lot.flow = unmeasured_flow(missing.flow)
cross join settings.shop
where lot.on_date <= missing.on_date + cast(shop.late_receipt_days as integer)
