-- A month at whose end the pieces that are there hold another cost than the stock of their stage.
-- @severity error
with held as (
    select month, stage, sum(cost_cents) as cents, sum(own_labour_cents) as own_cents
    from money.held group by month, stage
),

down as (
    select month, stage, sum(written_down_cents) as cents
    from money.write_down where stage <> 'gone' group by month, stage
)

select
    stock.month, stock.stage, stock.closing_cents, held.cents as held_cents,
    stock.written_down_cents, down.cents as by_piece
from money.stock_month as stock
left join held on held.month = stock.month and held.stage = stock.stage
left join down on down.month = stock.month and down.stage = stock.stage
where stock.stage <> 'materials'
    and (
        coalesce(held.cents, 0) <> stock.closing_cents
        or coalesce(held.own_cents, 0) <> stock.own_labour_cents
        or coalesce(down.cents, 0) <> stock.written_down_cents
    )
