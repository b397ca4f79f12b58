-- One row per product, part of its cost, and what that part is made of: bench time by operation,
-- material by layer.
-- The mean over its finished pieces of the share that each piece has of it, logged or inferred,
-- rework left out. A quote splits its hours and its material by it.
-- @key product, split_of, step
-- @check mean_share between 0 and 1
with pieces as (select piece, product from price.history where product is not null),

worked as (
    select shares.piece, hours.operation as step, shares.seconds as amount
    from work.hours_piece as shares
    join work.hours on hours.row_id = shares.row_id
    where hours.kind = 'bench' and hours.attended and not shares.rework and not shares.after_sale
        and shares.seconds > 0
    union all
    select piece, operation, seconds from work.hours_missing where seconds > 0
),

amounts as (
    select piece, 'bench' as split_of, step, sum(amount) as amount from worked group by piece, step
    union all
    select piece, 'material', layer, material_cents_today
    from price.material where material_cents_today > 0
),

shares as (
    select
        pieces.product, amounts.split_of, amounts.step,
        amounts.amount / sum(amounts.amount) over (partition by amounts.piece, amounts.split_of)
            as share
    from amounts
    join pieces on pieces.piece = amounts.piece
),

counted as (
    select pieces.product, amounts.split_of, count(distinct amounts.piece) as pieces
    from amounts
    join pieces on pieces.piece = amounts.piece
    group by pieces.product, amounts.split_of
)

select
    shares.product, shares.split_of, shares.step, any_value(counted.pieces) as pieces,
    -- in order of size: a sum of doubles differs by their order
    least(list_sum(list_sort(list(shares.share))) / any_value(counted.pieces), 1.0) as mean_share
from shares
join counted on counted.product = shares.product and counted.split_of = shares.split_of
group by shares.product, shares.split_of, shares.step
