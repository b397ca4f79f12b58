-- A month at whose end the pieces that are there hold another cost than the stock of their stage.
-- @severity error
with held as (select month, stage, sum(cost_cents) as cents, sum(written_down_cents) as down_cents from money.write_down where stage <> 'gone' group by month, stage)

select held.month, held.stage, held.cents, stock.closing_cents
from held join money.stock_month as stock on stock.month = held.month and stock.stage = held.stage
where held.cents > stock.closing_cents or held.down_cents <> stock.written_down_cents
