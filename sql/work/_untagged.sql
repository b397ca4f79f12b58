-- One row per sale of a product without a known piece.
-- @key row_id
select
    sales.row_id, sales.on_date, sale_turn.day_turn, sales.product, sales.price_cents,
    coalesce(sales.quantity, 1) as units
from records.sales
join work.sale_turn on sale_turn.row_id = sales.row_id
where coalesce(sales.quantity, 1) > 0 and sales.product is not null and sales.lot is null
    and sales.row_id not in (select row_id from work._tagged)
