-- One row per draw that takes its turn, with where it lies: first among what counts found again
-- (from and to `_again`), then among what was supplied (`_supplied`).
-- What is found again was bought before all else on the shelf: the draws after that count take it
-- first.
-- @key use_id
with used as (
    select flow, row_id, sum(quantity) as quantity
    from work.settled where not spread group by flow, row_id
),

draws as (
    select flow, ref as use_id, on_date, day_turn, quantity, 0 as turn
    from work._ledger where kind = 'draw'
    union all by name
    select
        counted.flow, short_id(counted.row_id, counted.flow) as use_id, counted.on_date,
        -counted.found - coalesce(used.quantity, 0) as quantity, 2 as turn
    from work.counted
    left join used on used.flow = counted.flow and used.row_id = counted.row_id
    where -counted.found > coalesce(used.quantity, 0)
    union all by name
    select flow, use_id, on_date, quantity, 1 as turn from work.settled where not spread
),

ends as (
    select
        flow, use_id, on_date, quantity,
        sum(quantity) over (
            partition by flow order by on_date, turn, day_turn, use_id rows unbounded preceding
        ) as to_drawn
    from draws
),

days as (select flow, on_date, max(to_drawn) as to_drawn from ends group by flow, on_date),

again as (
    select
        found.flow, found.on_date, found.again, found.to_again,
        coalesce(days.to_drawn, 0) as drawn
    from work.found
    asof left join days on days.flow = found.flow and days.on_date <= found.on_date
    where found.again > 0
),

-- among the draws it begins where that count stands, or where what was found before it ends
placed as (
    select
        flow, again, to_again, to_again - again + max(drawn - to_again + again) over (
            partition by flow order by on_date rows unbounded preceding
        ) as from_drawn
    from again
),

cut_off as (
    select
        ends.*,
        coalesce(
            placed.to_again - placed.again
                + least(placed.again, ends.to_drawn - placed.from_drawn), 0
        ) as to_again
    from ends
    asof left join placed on placed.flow = ends.flow and placed.from_drawn < ends.to_drawn
),

followed as (
    select *, lag(to_again, 1, 0) over (partition by flow order by to_drawn) as from_again
    from cut_off
)

select
    flow, use_id, cast(from_again as bigint) as from_again, cast(to_again as bigint) as to_again,
    cast(to_drawn - quantity - from_again as bigint) as from_supplied,
    cast(to_drawn - to_again as bigint) as to_supplied
from followed
