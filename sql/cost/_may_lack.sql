-- One row per piece and operation of which a part may be lacking, though it is more likely whole:
-- the cents that would go with it, at what the rest of it cost.
-- @key piece, operation
with doubtful as (
    select piece, name as operation, amount, had
    from work.part_logged where want = 'work' and not likely
),

spent as (
    select piece, operation, sum(cents - rework_cents) as cents
    from cost._piece_sum
    join settings.layer as known on known.layer = _piece_sum.layer
    where cost_group in ('labour', 'machine', 'overhead') group by piece, operation
)

select
    doubtful.piece, doubtful.operation,
    cut(cast(spent.cents as bigint), doubtful.amount, doubtful.had) as cents
from doubtful
join spent on spent.piece = doubtful.piece and spent.operation = doubtful.operation
where doubtful.had > 0 and spent.cents > 0
