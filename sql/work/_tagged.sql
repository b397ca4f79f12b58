-- One row per sale whose piece is on record, by its tag or by the order that it fills.
-- @key row_id
with sales as (select row_id, on_date, piece, order_no, coalesce(quantity, 1) as units from records.sales),

ordered as (
    select order_no, min(piece) as piece from records.pieces where order_no is not null group by order_no having count(*) = 1
)

select sales.row_id, coalesce(sales.piece, ordered.piece) as piece, sales.units, sales.on_date, sales.piece is null as assumed
from sales
left join ordered on ordered.order_no = sales.order_no
where coalesce(sales.piece, ordered.piece) is not null
