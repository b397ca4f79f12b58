-- One row per line of goods sent back and lot that it comes off (or none), with what came back for
-- it. Where a line comes off several lots, cents go by what the goods had cost: what was dearer is
-- credited dearer. What no lot holds counts as the mean of the rest; what cost nothing goes by
-- quantity.
-- @key row_id, lot_id
with parts as (
    select
        sent_back.*, greatest(lot.bought_quantity, sent_back.amount) as held,
        case when lot.opening then opening.worth_cents else landed.cents end as lot_cents
    from work.sent_back
    left join work.lot on lot.lot_id = sent_back.lot_id
    left join cost._landed as landed on landed.row_id = sent_back.lot_id
    left join records.counts as opening on opening.row_id = sent_back.lot_id
),

priced as (
    select
        *,
        case when lot_id is not null and held > 0
             then greatest(cut(1000 * lot_cents, amount, held), 0) end as worth
    from parts
),

known as (
    select row_id, sum(worth) as worth, sum(amount) as amount
    from priced where worth is not null group by row_id having sum(worth) > 0
),

weighed as (
    select
        priced.*,
        case when known.row_id is null then priced.amount
             else coalesce(priced.worth, cut(known.worth, priced.amount, known.amount)) end as weight
    from priced
    left join known on known.row_id = priced.row_id
),

laid as (
    select
        *, sum(weight) over (partition by row_id order by to_amount rows unbounded preceding) as to_weight,
        sum(weight) over (partition by row_id) as all_weight
    from weighed
)

select
    laid.row_id, laid.lot_id, landed.on_date, laid.amount,
    cast(case
        when all_weight = 0 then landed.cents
        else share(landed.cents, to_weight - weight, to_weight, all_weight) end as bigint) as cents
from laid
join cost._landed as landed on landed.row_id = laid.row_id
