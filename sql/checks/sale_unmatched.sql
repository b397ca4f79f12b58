-- A sale for which no piece is known: the usual cost of its product stands in for it.
-- @severity warning
select row_id, on_date, product, price_cents from records.sales
where coalesce(quantity, 1) > 0 and lot is null
    and row_id not in (select row_id from work.sale_piece)
