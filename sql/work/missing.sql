-- One row per draw before which something bought must be missing, with how much: more was used than
-- was bought. Missing so far is the running maximum of what was used beyond what was bought, a
-- receipt dated a few days late included; each rise of it enters as a lot of its own just before
-- that draw.
-- @key ref
with ledger as (select * from work._ledger),

balance as (
    select
        ledger.*,
        sum(case when kind = 'draw' then quantity else 0 end) over so_far as drawn,
        sum(case when kind = 'supply' then quantity else 0 end) over so_far_and_late as bought
    from ledger, settings.shop
    window
        so_far as (
            partition by flow, segment order by on_date, kind desc, day_turn rows unbounded preceding
        ),
        so_far_and_late as (
            partition by flow, segment
            order by on_date range between unbounded preceding
            and to_days(cast(late_receipt_days as integer)) following
        )
),

short as (
    select
        *,
        greatest(
            0, max(case when kind = 'draw' then drawn - bought - opening else 0 end) over so_far
        ) as missing
    from balance
    window so_far as (
        partition by flow, segment order by on_date, kind desc, day_turn rows unbounded preceding
    )
),

rises as (
    select *, missing - coalesce(lag(missing) over in_turn, 0) as rise
    from short
    window in_turn as (partition by flow, segment order by on_date, kind desc, day_turn)
),

next_count as (
    select flow, on_date, row_number() over (partition by flow order by on_date) - 1 as segment
    from work._count
)

select
    rises.ref, rises.flow, rises.segment, rises.on_date, rises.day_turn,
    -- its turn comes behind the receipts that may still turn up for the same draw, but before the
    -- next count
    least(
        rises.on_date + cast(shop.late_receipt_days as integer),
        coalesce(next_count.on_date, date '9999-12-31')
    ) as turn_on,
    cast(rises.rise as bigint) as quantity
from rises
cross join settings.shop
left join next_count on next_count.flow = rises.flow and next_count.segment = rises.segment
where rises.rise > 0 and rises.kind = 'draw'
