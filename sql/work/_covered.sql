-- One row per stretch of bench work that names no piece and piece in progress that lacks the
-- operation: the seconds taken to be for it. Each is offered work in proportion to what it needs,
-- and takes no more than that in all (assumed).
-- @key row_id, piece
with pieceless as (
    select hours.row_id, hours.on_date, hours.day_turn, hours.operation, hours.seconds from work.hours
    where hours.kind = 'bench' and not hours.rework
        and hours.row_id not in (select row_id from work._logged)
),

lacking as (
    select
        lacking.piece, lacking.name as operation, lacking.amount as need, piece.started_on,
        coalesce(piece.finished_on, piece.ended_on, date '9999-12-31') as done_on
    from work._lacking as lacking
    join work.piece on piece.piece = lacking.piece
    where lacking.want = 'work'
),

offered as (
    select
        pieceless.*, lacking.piece, lacking.need,
        sum(lacking.need) over (partition by pieceless.row_id order by lacking.piece) as to_need,
        sum(lacking.need) over (partition by pieceless.row_id) as all_need
    from pieceless
    join lacking
        on lacking.operation = pieceless.operation
        and pieceless.on_date between lacking.started_on and lacking.done_on
),

shares as (
    select *, share(seconds, to_need - need, to_need, all_need) as offer from offered
),

running as (
    select
        *,
        sum(offer) over (
            partition by piece, operation order by on_date, day_turn rows unbounded preceding
        ) as to_offer
    from shares
)

select
    row_id, on_date, piece,
    cast(least(to_offer, need) - least(to_offer - offer, need) as bigint) as seconds
from running where least(to_offer, need) > least(to_offer - offer, need)
