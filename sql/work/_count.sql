-- One row per item and day on which its whole stock was counted; a later count begins where this one ended.
-- Counts of single lots, and what was there at the start, are not of this kind.
-- @key flow, on_date
with counted as (
    select
        counts.row_id, counts.item, counts.on_date, counts.cause,
        in_base(counts.quantity, counts.quantity_unit, item.unit, item.density_ug_per_ul, item.kit_ul) as quantity
    from records.counts
    join work.item on item.item = counts.item
    where counts.worth_cents is null and item.category <> 'wood'
)

select item as flow, on_date, min(row_id) as row_id, min(cause) as cause, cast(sum(quantity) as bigint) as quantity
from counted where quantity is not null
group by item, on_date
