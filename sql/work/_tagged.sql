-- One row per sale and piece of it that is on record, by its tag or by the order that it fills.
-- An order's only piece goes with its sales; of several, those that no sale names go with the sales
-- of their product that name none, where these hand over just as many units. What was scrapped, or
-- made as a test, for an order is none of them.
-- @key row_id, piece
with sales as (
    select
        sales.row_id, sales.on_date, sale_turn.day_turn, sales.piece, sales.order_no, sales.product,
        sales.lot, coalesce(sales.quantity, 1) as units
    from records.sales
    join work.sale_turn on sale_turn.row_id = sales.row_id
),

pieces as (
    select piece, order_no, product, units, status in ('finished', 'in progress') as good
    from work.piece where order_no is not null
),

alone as (
    select
        order_no,
        case when count(*) filter (where good) = 1 then min(piece) filter (where good)
             when count(*) = 1 then min(piece) end as piece
    from pieces group by order_no
),

named as (select row_id, piece, units, on_date from sales where piece is not null),

named_units as (select piece, sum(units) as units from named group by piece),

several as (
    select
        pieces.order_no, pieces.product, pieces.piece,
        pieces.units - coalesce(named_units.units, 0) as units
    from pieces
    join alone on alone.order_no = pieces.order_no and alone.piece is null
    left join named_units on named_units.piece = pieces.piece
    where pieces.good and pieces.units > coalesce(named_units.units, 0)
),

only_product as (
    select order_no, any_value(product) as product
    from several group by order_no having count(distinct product) = 1
),

unnamed as (
    select
        sales.row_id, sales.on_date, sales.day_turn, sales.order_no,
        coalesce(sales.product, only_product.product) as product, sales.units
    from sales
    left join only_product on only_product.order_no = sales.order_no
    where sales.piece is null and sales.lot is null and sales.units > 0
),

piece_ends as (
    select *, sum(units) over so_far as to_units, sum(units) over whole as all_units
    from several
    window whole as (partition by order_no, product),
        so_far as (partition by order_no, product order by piece rows unbounded preceding)
),

sale_ends as (
    select *, sum(units) over so_far as to_units, sum(units) over whole as all_units
    from unnamed
    window whole as (partition by order_no, product),
        so_far as (partition by order_no, product order by on_date, day_turn rows unbounded preceding)
),

shared as (
    select
        sale.row_id, piece.piece, sale.on_date,
        least(sale.to_units, piece.to_units)
            - greatest(sale.to_units - sale.units, piece.to_units - piece.units) as units
    from sale_ends as sale
    join piece_ends as piece
        on piece.order_no = sale.order_no and piece.product = sale.product
        and piece.all_units = sale.all_units
)

select row_id, piece, cast(units as bigint) as units, on_date, false as assumed from named
union all by name
select sales.row_id, alone.piece, sales.units, sales.on_date, true as assumed
from sales
join alone on alone.order_no = sales.order_no
where sales.piece is null and sales.lot is null and alone.piece is not null
union all by name
select row_id, piece, cast(units as bigint) as units, on_date, true as assumed
from shared where units > 0
