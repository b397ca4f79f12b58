-- One row per lot that went back whole: what it cost beyond what came back for it is lost on the day that the last of it went.
-- @key lot_id
with back as (
    select lot_id, max(on_date) as on_date, max_by(row_id, (on_date, row_id)) as row_id, sum(cents) as cents
    from cost._sent_back where lot_id is not null
    group by lot_id
)

select
    back.lot_id, greatest(back.on_date, lot.on_date) as on_date, back.row_id, lot.item, lot.lot, lot.category, lot.unit,
    cast(back.cents + case when lot.opening then opening.worth_cents else landed.cents end as bigint) as cents
from back
join work.lot on lot.lot_id = back.lot_id and lot.quantity = 0
left join cost._landed as landed on landed.row_id = back.lot_id
left join records.counts as opening on opening.row_id = back.lot_id
