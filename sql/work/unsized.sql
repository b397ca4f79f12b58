-- One row per line that brings in stock by the kit or by the piece, of an item that is kept by
-- weight or volume and of which nobody said how much is in one.
-- @key row_id
with lines as (
    select row_id, quantity_unit, amount_cents from records.purchases
    union all by name
    select row_id, quantity_unit, worth_cents as amount_cents from records.counts
)

select bought.row_id, bought.item, abs(coalesce(lines.amount_cents, 0)) as cents
from work._bought as bought
join work.item on item.item = bought.item
join lines on lines.row_id = bought.row_id
where not bought.measured and not bought.sent_back
    and item.kit_ul is null and item.kit_mg is null
    and coalesce(lines.quantity_unit, 'kit') in ('each', 'kit')
