-- One row per sale of a product without a known piece.
-- @key row_id
select row_id, on_date, product, price_cents, coalesce(quantity, 1) as units
from records.sales
where coalesce(quantity, 1) > 0 and product is not null and lot is null
    and row_id not in (select row_id from work._tagged)
