-- One row per month in which products were sold for less than they cost: how many, and what they
-- lost in all.
-- A cost that only came after the sale is no loss of a sale: a product counts where units of it were
-- sold in the month.
-- @key month
-- @check lost_cents > 0
select month, cast(count(*) as bigint) as products, cast(-sum(margin_cents) as bigint) as lost_cents
from money.margin
where factor = 'product' and span = 'month' and margin_cents < 0 and units > 0
group by month
