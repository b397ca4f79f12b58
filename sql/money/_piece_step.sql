-- One row per piece, month and kind of movement, with the stage that it happened in.
-- A piece is in progress until it is finished, and out on consignment while it lies at a place that
-- is neither the shop nor an event. On one day costs come in first, then it is finished or taken
-- away, then it leaves. `cents` is the movement as its kind counts it, `change_cents` what it does
-- to the stage's balance, `own_cents` the own labour in that.
with named as (
    select
        piece, on_date,
        case when other_place = 'pool' and item = 'spoilage' and cents > 0 then 'moved in'
             when other_place = 'pool' and item = 'spoilage' then 'moved out'
             when other_place = 'pool' and layer = 'machine' then 'machine'
             when other_place = 'pool' then 'overhead'
             when other_place = 'stock' then 'moved in'
             when other_place = 'sold' and cents > 0 then 'returned'
             when other_place = 'sold' then 'cost of sales'
             when other_place in ('own use', 'period') then 'own use'
             when other_place = 'waste' then 'waste'
             when other_place = 'setting' then 'opening'
             when other_place = 'labour' then 'labour'
             else 'imputed' end as kind,
        case when cents > 0 then 0 else 2 end as turn,
        cents, case when origin = 'own labour' then cents else 0 end as own_cents
    from cost.moved_entry where place = 'piece'
),

steps as (
    select piece, on_date, kind, turn, sum(cents) as change_cents, sum(own_cents) as own_cents
    from named group by piece, on_date, kind, turn
),

-- what normal scrap did not take leaves as spoilage, not to other pieces
exits as (select row_id, min(piece) as piece from work.exit where place = 'pool' group by row_id),

lost as (
    select
        coalesce(moved_entry.piece, exits.piece) as piece, moved_entry.on_date, -sum(moved_entry.cents) as cents
    from cost.moved_entry
    left join exits on exits.row_id = moved_entry.row_id
    where moved_entry.item = 'spoilage' and moved_entry.place = 'pool'
        and moved_entry.other_place in ('waste', 'period')
    group by all
),

events as (
    select upper(replace(name, ' ', '')) as name from settings.event
    union select event from records.sales where event is not null
    union select event from records.purchases where event is not null
    union select event from records.hours where event is not null
),

marks as (
    select piece, finished_on as on_date, 0 as number, true as finished
    from work.piece where finished_on is not null
    union all by name
    select
        bridge.piece, moves.on_date,
        row_number() over (
            partition by bridge.piece, moves.on_date order by moves.place, moves.row_id
        ) as number,
        lower(moves.place) <> 'shop'
            and upper(replace(moves.place, ' ', '')) not in (from events) as away
    from records.moves
    join records.moves_piece as bridge on bridge.row_id = moves.row_id
    where moves.place is not null
),

course as (
    select piece, on_date, turn, 0 as number, kind, change_cents, own_cents from steps
    union all by name
    select
        piece, on_date, 1 as turn, number, 'mark' as kind, finished, away, 0 as change_cents,
        0 as own_cents
    from marks
    union all by name
    select
        piece, on_date, 3 as turn, 0 as number, 'spoilage' as kind, 0 as change_cents,
        0 as own_cents,
        cents as label_cents
    from lost
),

staged as (
    select
        *,
        case when coalesce(last_value(away ignore nulls) over so_far, false) then 'consigned'
             when coalesce(bool_or(finished) over so_far, false) then 'finished'
             else 'in progress' end as stage,
        sum(change_cents) over so_far as balance_cents,
        sum(own_cents) over so_far as own_balance_cents
    from course
    window so_far as (
        partition by piece order by on_date, turn, number, kind rows unbounded preceding
    )
),

turned as (
    select
        *, lag(stage, 1, 'in progress') over (
            partition by piece order by on_date, turn, number, kind
        ) as stage_before
    from staged
),

-- a mark takes all that the piece holds from one stage to the next
changed as (
    select * from turned where kind = 'mark' and stage <> stage_before and balance_cents <> 0
),

movements as (
    select piece, on_date, stage, kind, change_cents as cents, change_cents, own_cents
    from turned where kind not in ('mark', 'spoilage')
    union all by name
    select
        piece, on_date, stage_before as stage, 'moved out' as kind,
        -balance_cents as cents, -balance_cents as change_cents, -own_balance_cents as own_cents
    from changed
    union all by name
    select
        piece, on_date, stage, 'moved in' as kind,
        balance_cents as cents, balance_cents as change_cents, own_balance_cents as own_cents
    from changed
    union all by name
    select
        piece, on_date, stage, 'spoilage' as kind, -label_cents as cents, 0 as change_cents,
        0 as own_cents
    from turned where kind = 'spoilage'
    union all by name
    select
        piece, on_date, stage, 'moved out' as kind, label_cents as cents, 0 as change_cents,
        0 as own_cents
    from turned where kind = 'spoilage'
)

select
    piece, month_of(on_date) as month, stage, kind, cast(sum(cents) as bigint) as cents,
    cast(sum(change_cents) as bigint) as change_cents, cast(sum(own_cents) as bigint) as own_cents
from movements
group by all
