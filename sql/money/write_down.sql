-- One row per unsold piece and month in which it is written down, or ceases to be, item by item.
-- A piece is worth the lower of its cost and of what it will bring: its list price, else the price its order agreed, else
-- the product's median sale of twelve months, less what selling takes and, in progress, less the cost to finish it. What
-- was written down comes back when that rises, at most to cost, and when the piece is sold. Once with own pay, once in the books.
-- @key piece, month
-- @check written_down_cents between 0 and cost_cents
-- @check books_written_down_cents between 0 and books_cost_cents
with agreed as (
    select piece.piece, any_value(orders.price_cents) as price_cents, any_value(orders.cancelled) as cancelled
    from records.pieces as piece
    join records.orders on orders.order_no = piece.order_no
    where orders.price_cents is not null and piece.order_no in (select order_no from records.pieces group by order_no having count(*) = 1)
    group by piece.piece
),

priced as (
    select
        held.piece, held.month, held.stage, held.units, held.cost_cents as cents, piece.product, held.cost_cents - held.own_labour_cents as books_cents,
        coalesce(
            pieces.list_price_cents, case when agreed.cancelled is null or agreed.cancelled > last_day(held.month) then cut(agreed.price_cents, 1, piece.units) end,
            usual.price_cents
        ) as price_cents,
        case when pieces.list_price_cents is not null then 'list price'
             when agreed.price_cents is not null and (agreed.cancelled is null or agreed.cancelled > last_day(held.month)) then 'order'
             when usual.price_cents is not null then 'usual price' end as price_basis,
        share.selling_ppm,
        case when held.stage = 'in progress' then greatest(0, coalesce(usual.unit_cents * held.units - held.cost_cents, 0)) else 0 end as to_finish_cents,
        case when held.stage = 'in progress' then greatest(0, coalesce(usual.books_unit_cents * held.units - (held.cost_cents - held.own_labour_cents), 0)) else 0 end as books_to_finish_cents
    from money.held as held
    join work.piece on piece.piece = held.piece
    left join records.pieces on pieces.piece = held.piece
    left join agreed on agreed.piece = held.piece
    left join money._usual_price as usual on usual.product = piece.product and usual.month = held.month
    left join money._selling_share as share on share.month = held.month
),

worth as (
    select
        *,
        -- nothing is known of what a piece without any price will bring, so it stays at cost
        case when price_cents is not null then greatest(0, cut(price_cents * units, 1000000 - selling_ppm, 1000000) - to_finish_cents) end as worth_cents,
        case when price_cents is not null then greatest(0, cut(price_cents * units, 1000000 - selling_ppm, 1000000) - books_to_finish_cents) end as books_worth_cents
    from priced
),

written as (
    select
        *, greatest(0, cents - coalesce(worth_cents, cents)) as written_down_cents,
        greatest(0, books_cents - coalesce(books_worth_cents, books_cents)) as books_written_down_cents
    from worth
),

-- the month after one at whose end it is no longer there, it is written down no more, though it may come back later
stays as (select *, lead(month) over (partition by piece order by month) as next_month from written),

gone as (
    select piece, cast(month + interval 1 month as date) as month, product from stays
    where coalesce(next_month, date '9999-12-01') > month + interval 1 month and month < (select max(month) from work.month)
),

there as (
    select
        piece, month, product, stage, units, cents as cost_cents, books_cents as books_cost_cents, price_cents, price_basis, selling_ppm / 1000000 as selling_share,
        to_finish_cents, worth_cents, written_down_cents, books_written_down_cents
    from written
    union all
    select piece, month, product, 'gone', 0, 0, 0, null, null, null, 0, 0, 0, 0 from gone
),

compared as (
    select
        *,
        written_down_cents - coalesce(lag(written_down_cents) over (partition by piece order by month), 0) as change_cents,
        books_written_down_cents - coalesce(lag(books_written_down_cents) over (partition by piece order by month), 0) as books_change_cents
    from there
)

select
    compared.piece, compared.month, compared.product, stage, compared.units, cast(cost_cents as bigint) as cost_cents, cast(books_cost_cents as bigint) as books_cost_cents,
    price_cents as expected_cents, price_basis, selling_share, cast(to_finish_cents as bigint) as to_finish_cents, cast(worth_cents as bigint) as worth_cents,
    cast(written_down_cents as bigint) as written_down_cents, cast(books_written_down_cents as bigint) as books_written_down_cents,
    cast(change_cents as bigint) as change_cents, cast(books_change_cents as bigint) as books_change_cents, piece.row_id
from compared
join work.piece on piece.piece = compared.piece
where written_down_cents <> 0 or books_written_down_cents <> 0 or change_cents <> 0 or books_change_cents <> 0
