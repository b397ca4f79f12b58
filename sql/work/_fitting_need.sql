-- One row per finished piece and fitting that at least half of the finished pieces of its product
-- have on record, and it has not: how much, by what those have for one unit. What nearly all of them
-- have was put into it for want of a log (`work.use_missing`), and is no row here.
-- @key piece, item
-- @check amount > 0
with models as (
    select piece, product, units, finished_on
    from work.piece where status = 'finished' and not opening
),

made as (select product, count(*) as pieces from models group by product),

had as (select piece, name as item, amount from work._had where want = 'item' and part = 'hardware'),

usual as (
    select
        models.product, had.item, count(*) as pieces,
        cast(quantile_disc(cast(had.amount as hugeint) * 1000000000000 // models.units, 0.5) as hugeint)
            as by_unit
    from had
    join models on models.piece = had.piece
    group by models.product, had.item
),

needs as (
    select
        models.piece, usual.item, models.finished_on as on_date,
        cast(cut(usual.by_unit, models.units, 1000000000000) as bigint) as amount
    from usual
    join made on made.product = usual.product
    join models on models.product = usual.product
    where 2 * usual.pieces >= made.pieces and models.finished_on is not null
)

select needs.*
from needs
anti join had on had.piece = needs.piece and had.item = needs.item
anti join work.use_missing as missing
    on missing.piece = needs.piece and missing.want = 'item' and missing.name = needs.item
where needs.amount > 0
