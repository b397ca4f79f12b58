-- One row per sale and the piece it took. A sale without a tag takes the oldest unsold unit of its product (assumed).
-- Units and sales of a product are laid end to end and matched by position, as a shelf would empty.
-- @key row_id, piece
with sales as (select row_id, on_date, piece, product, order_no, coalesce(quantity, 1) as units from records.sales),

ordered as (
    select order_no, min(piece) as piece from records.pieces where order_no is not null group by order_no having count(*) = 1
),

tagged as (
    select sales.row_id, coalesce(sales.piece, ordered.piece) as piece, sales.units, sales.on_date, sales.piece is null as assumed
    from sales
    left join ordered on ordered.order_no = sales.order_no
    where coalesce(sales.piece, ordered.piece) is not null
),

taken as (select piece, sum(units) as units from tagged group by piece),

shelf as (
    select piece.piece, piece.product, piece.finished_on, piece.units - coalesce(taken.units, 0) as units
    from work.piece
    left join taken on taken.piece = piece.piece
    where piece.finished_on is not null and piece.status = 'finished' and piece.order_no is null
        and piece.units > coalesce(taken.units, 0)
),

shelf_at as (
    select *, sum(units) over (partition by product order by finished_on, piece) as to_unit from shelf
),

untagged as (
    select row_id, product, on_date, units from sales
    where row_id not in (select row_id from tagged) and units > 0 and product is not null
),

untagged_at as (
    select *, sum(units) over (partition by product order by on_date, row_id) as to_unit from untagged
),

matched as (
    select
        untagged_at.row_id, shelf_at.piece, untagged_at.on_date,
        least(untagged_at.to_unit, shelf_at.to_unit)
            - greatest(untagged_at.to_unit - untagged_at.units, shelf_at.to_unit - shelf_at.units) as units
    from untagged_at
    join shelf_at
        on shelf_at.product = untagged_at.product
        and shelf_at.to_unit > untagged_at.to_unit - untagged_at.units
        and shelf_at.to_unit - shelf_at.units < untagged_at.to_unit
)

select row_id, piece, cast(sum(units) as bigint) as units, min(on_date) as on_date, bool_or(assumed) as assumed
from (
    select row_id, piece, units, on_date, assumed from tagged
    union all select row_id, piece, units, on_date, true from matched
)
group by row_id, piece
