-- One row per product and month: the median price and cost of one unit over the twelve months that
-- end with it.
-- A sale that came back was none.
-- @key product, month
with ages as (select unnest(range(0, 12)) as age),

sold as (
    select part.product, part.month, cut(sale.taken_cents, 1, sale.units) as unit_cents
    from money._sale_part as part
    join money._sale as sale on sale.row_id = part.row_id
    left join money.sold on sold.row_id = part.row_id and sold.piece = part.piece
    where sale.units > 0 and not coalesce(sold.came_back, false)
),

prices as (
    select
        product, months_later(month, age) as month,
        quantile_disc(unit_cents, 0.5) as price_cents
    from sold
    cross join ages group by all
),

made as (
    select
        product, month_of(finished) as month, unit_cents,
        cut(made_cents - own_labour_cents, 1, quantity) as books_unit_cents
    from cost.piece where status = 'finished' and finished is not null and product is not null
),

costs as (
    select
        product, months_later(month, age) as month,
        quantile_disc(unit_cents, 0.5) as unit_cents,
        quantile_disc(books_unit_cents, 0.5) as books_unit_cents
    from made
    cross join ages group by all
)

select
    coalesce(prices.product, costs.product) as product,
    coalesce(prices.month, costs.month) as month, prices.price_cents, costs.unit_cents,
    costs.books_unit_cents
from prices
full join costs on costs.product = prices.product and costs.month = prices.month
