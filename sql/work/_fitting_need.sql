-- One row per finished piece and fitting that it ought to have, and did not log: how much, by what
-- those have for one unit that do. At least half of the finished pieces of its product have it, and
-- of those too that have each other fitting that the piece did log: what has a latch in place of a
-- hinge lacks no hinge. What was finished before any of it was on the shelf has none. What nearly all
-- of them have was put into it for want of a log (`work.use_missing`), and is no row here.
-- @key piece, item
-- @check amount > 0
with models as (
    select piece, product, units, finished_on
    from work.piece where status = 'finished' and not opening
),

made as (select product, count(*) as pieces from models group by product),

told as (select piece, name as item, amount from work._had where want = 'item' and part = 'hardware'),

-- a taking of nothing says that there is none
had as (
    select told.piece, told.item, told.amount, models.product, models.units
    from told
    join models on models.piece = told.piece
    where told.amount > 0
),

usual as (
    select
        product, item, count(*) as pieces,
        cast(quantile_disc(cast(amount as hugeint) * 1000000000000 // units, 0.5) as hugeint)
            as by_unit
    from had
    group by product, item
),

together as (
    select had.product, had.item, beside.item as other, count(*) as pieces
    from had
    join had as beside on beside.piece = had.piece and beside.item <> had.item
    group by had.product, had.item, beside.item
),

seen as (
    select flow as item, on_date from work.lot
    union all by name
    select flow as item, on_date from work._count
),

on_shelf as (
    select
        seen.item,
        min(seen.on_date) - cast(any_value(shop.late_receipt_days) as integer) as from_on
    from seen
    cross join settings.shop
    group by seen.item
),

needs as (
    select
        models.piece, usual.product, usual.item, models.finished_on as on_date,
        cast(cut(usual.by_unit, models.units, 1000000000000) as bigint) as amount
    from usual
    join made on made.product = usual.product
    join models on models.product = usual.product
    join on_shelf on on_shelf.item = usual.item and on_shelf.from_on <= models.finished_on
    where 2 * usual.pieces >= made.pieces
),

-- another fitting of the piece, with which the product has this one in fewer than half
instead as (
    select distinct needs.piece, needs.item
    from needs
    join had on had.piece = needs.piece
    join usual on usual.product = had.product and usual.item = had.item
    left join together
        on together.product = needs.product and together.item = needs.item
        and together.other = had.item
    where 2 * coalesce(together.pieces, 0) < usual.pieces
)

select needs.* exclude (product)
from needs
anti join told on told.piece = needs.piece and told.item = needs.item
anti join instead on instead.piece = needs.piece and instead.item = needs.item
anti join work.use_missing as missing
    on missing.piece = needs.piece and missing.want = 'item' and missing.name = needs.item
where needs.amount > 0
