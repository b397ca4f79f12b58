-- One row per count that found less or more than the book: what of it is lost, what earlier counts
-- of the item had booked as lost and is here again, and what is here beyond that.
-- What was lost first is found first. `to_lost` and `to_again` run over the counts of an item, so
-- that what is found again lies, in what was lost, from `to_again` less `again` to `to_again`. What
-- was used up or taken home is not lost.
-- @key row_id, flow
-- @check lost >= 0 and again >= 0 and beyond >= 0 and to_again <= to_lost
with used as (
    select flow, row_id, sum(quantity) as quantity
    from work.settled where not spread group by flow, row_id
),

counts as (
    select
        counted.flow, counted.on_date, counted.row_id, counted.cause,
        case when counted.found < 0 and counted.cause is distinct from 'own use'
            then -counted.found - coalesce(used.quantity, 0) else 0 end as lost,
        greatest(counted.found, 0) as more
    from work.counted
    left join used on used.flow = counted.flow and used.row_id = counted.row_id
),

summed as (
    select *, sum(lost) over so_far as to_lost, sum(more) over so_far as to_more
    from counts
    window so_far as (partition by flow order by on_date rows unbounded preceding)
),

-- what is still lost is never less than nothing
matched as (
    select
        *,
        to_more + least(
            0,
            min(to_lost - to_more)
                over (partition by flow order by on_date rows unbounded preceding)
        ) as to_again
    from summed
),

parted as (
    select
        *, to_again - lag(to_again, 1, 0) over (partition by flow order by on_date) as again
    from matched
)

select
    flow, on_date, row_id, cause, cast(lost as bigint) as lost, cast(again as bigint) as again,
    cast(more - again as bigint) as beyond, cast(to_lost as bigint) as to_lost,
    cast(to_again as bigint) as to_again
from parted
