-- One row per count that found less or more than the book says, with the day of the one before.
-- @key flow, on_date
with ledger as (select * from work._ledger),

totals as (
    select flow, segment, sum(case kind when 'supply' then quantity else -quantity end) as net
    from ledger group by flow, segment
),

missing as (
    select flow, segment, sum(quantity) as quantity from work.missing group by flow, segment
),

counts as (
    select
        *, row_number() over in_turn - 1 as segment,
        coalesce(lag(quantity) over in_turn, 0) as opening, lag(on_date) over in_turn as after_on
    from work._count
    window in_turn as (partition by flow order by on_date)
),

compared as (
    select
        counts.*, counts.opening + coalesce(totals.net, 0) + coalesce(missing.quantity, 0) as book
    from counts
    left join totals on totals.flow = counts.flow and totals.segment = counts.segment
    left join missing on missing.flow = counts.flow and missing.segment = counts.segment
)

select flow, on_date, after_on, row_id, cause, cast(quantity - book as bigint) as found
from compared where quantity <> book
