-- One row per product and change: what pay, or resin, that is a tenth dearer does to its cost and
-- its price.
-- Cost is the mean unit at today's pay and prices; the new price keeps the margin that the usual
-- one has.
-- @key product, change
-- @check added_cents >= 0
with costs as (
    select
        product, count(*) as pieces, sum(quantity) as units, sum(today_cents * quantity) as cents,
        sum(today_labour_cents * quantity) as labour_cents,
        sum(today_resin_cents * quantity) as resin_cents
    from price.piece_today group by product
),

latest as (
    select product, price_cents from price.history where price_cents is not null
    qualify row_number() over (partition by product order by sold desc, piece) <= 20
),

prices as (
    select product, quantile_disc(price_cents, 0.5) as price_cents from latest group by product
),

changes as (
    select *, 'pay + 10 %' as change, labour_cents as touched_cents from costs
    union all select *, 'resin + 10 %', resin_cents from costs
),

dearer as (
    select
        changes.product, changes.change, changes.pieces,
        cut(changes.cents, 1, changes.units) as today_cents,
        cut(changes.touched_cents, 1, 10 * changes.units) as added_cents,
        prices.price_cents as usual_price_cents
    from changes
    left join prices on prices.product = changes.product
)

select
    *, case when today_cents > 0 then added_cents / today_cents end as added_share,
    case when today_cents > 0
         then cut(usual_price_cents, today_cents + added_cents, today_cents) end as new_price_cents
from dearer
