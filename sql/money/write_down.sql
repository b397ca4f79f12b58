-- One row per unsold piece and month in which it is written down, or ceases to be, item by item.
-- A piece is worth the lower of its cost and of what it will bring: the list price in force at the
-- month's end, else the price its order agreed, else the product's median sale of twelve months,
-- less what selling takes and, in progress, less the cost to finish it. What was
-- written down comes back when that rises, at most to cost, and when the piece is sold. Once with
-- own pay, once in the books.
-- @key piece, month
-- @check written_down_cents between 0 and cost_cents
-- @check books_written_down_cents between 0 and books_cost_cents
with single as (select order_no from records.pieces group by order_no having count(*) = 1),

agreed as (
    select
        piece.piece, any_value(orders.price_cents) as price_cents,
        any_value(orders.cancelled) as cancelled
    from records.pieces as piece
    join records.orders on orders.order_no = piece.order_no
    where orders.price_cents is not null and piece.order_no in (from single)
    group by piece.piece
),

held as (
    select
        held.piece, held.month, held.stage, held.units, piece.product, piece.units as all_units,
        held.cost_cents, held.cost_cents - held.own_labour_cents as books_cost_cents,
        -- in force at the month's end
        case when agreed.cancelled is null or agreed.cancelled > last_day(held.month)
             then agreed.price_cents end as agreed_cents
    from money.held as held
    join work.piece on piece.piece = held.piece
    left join agreed on agreed.piece = held.piece
),

priced as (
    select
        held.*, share.selling_cents, share.revenue_cents, asked.list_price_cents as list_cents,
        coalesce(list_cents, cut(agreed_cents, 1, all_units), usual.price_cents) as price_cents,
        case when list_cents is not null then 'list price'
             when agreed_cents is not null then 'order'
             when usual.price_cents is not null then 'usual price' end as price_basis,
        case when held.stage = 'in progress'
             then greatest(0, coalesce(usual.unit_cents * held.units - cost_cents, 0))
             else 0 end as to_finish_cents,
        case when held.stage = 'in progress'
             then greatest(0, coalesce(usual.books_unit_cents * held.units - books_cost_cents, 0))
             else 0 end as books_to_finish_cents
    from held
    asof left join work.list_price as asked
        on asked.piece = held.piece and asked.from_date <= last_day(held.month)
    left join money._usual_price as usual
        on usual.product = held.product and usual.month = held.month
    left join money._selling_share as share on share.month = held.month
),

-- nothing is known of what a piece without any price will bring, so it stays at cost
netted as (
    select
        *, cut(price_cents * units, revenue_cents - selling_cents, revenue_cents) as net_cents
    from priced
),

worth as (
    select
        *,
        case when net_cents is not null
             then greatest(0, net_cents - to_finish_cents) end as worth_cents,
        case when net_cents is not null
             then greatest(0, net_cents - books_to_finish_cents) end as books_worth_cents
    from netted
),

written as (
    select
        *, selling_cents / revenue_cents as selling_share,
        greatest(0, cost_cents - coalesce(worth_cents, cost_cents)) as written_down_cents,
        greatest(0, books_cost_cents - coalesce(books_worth_cents, books_cost_cents))
            as books_written_down_cents
    from worth
),

-- the month after one at whose end it is no longer there, it is written down no more, though it may
-- come back later
stays as (
    select
        *, lead(month, 1, date '9999-12-01') over (partition by piece order by month) as next_month
    from written
),

gone as (
    select
        piece, cast(month + interval 1 month as date) as month, product, 'gone' as stage,
        0 as units, 0 as cost_cents, 0 as books_cost_cents, 0 as to_finish_cents, 0 as worth_cents,
        0 as written_down_cents,
        0 as books_written_down_cents
    from stays
    where next_month > month + interval 1 month and month < (select max(month) from work.month)
),

compared as (
    select
        *,
        written_down_cents - lag(written_down_cents, 1, 0) over course as change_cents,
        books_written_down_cents - lag(books_written_down_cents, 1, 0) over course
            as books_change_cents
    from (from written union all by name from gone)
    window course as (partition by piece order by month)
)

select
    compared.piece, compared.month, compared.product, stage, compared.units,
    cast(cost_cents as bigint) as cost_cents, cast(books_cost_cents as bigint) as books_cost_cents,
    price_cents as expected_cents, price_basis, selling_share,
    cast(to_finish_cents as bigint) as to_finish_cents, cast(worth_cents as bigint) as worth_cents,
    cast(written_down_cents as bigint) as written_down_cents,
    cast(books_written_down_cents as bigint) as books_written_down_cents,
    cast(change_cents as bigint) as change_cents,
    cast(books_change_cents as bigint) as books_change_cents,
    piece.row_id
from compared
join work.piece on piece.piece = compared.piece
where written_down_cents <> 0 or books_written_down_cents <> 0 or change_cents <> 0
    or books_change_cents <> 0
