-- One row per piece, day and kind of movement, with the stage that it happened in.
-- A piece is in progress until it is finished, and out on consignment while it lies at a place that is neither the shop
-- nor an event. On one day costs come in first, then it is finished or taken away, then it leaves. `cents` is the
-- movement as its kind counts it, `change_cents` what it does to the stage's balance, `own_cents` the own labour in that.
with moved as (
    select on_date, row_id, piece, from_place as place, layer, item, origin, cents from cost.trace where to_place = 'piece'
    union all
    select on_date, row_id, piece, to_place, layer, item, origin, -cents from cost.trace where from_place = 'piece'
),

named as (
    select
        piece, on_date,
        case when place = 'pool' and item = 'spoilage' then case when cents > 0 then 'moved in' else 'moved out' end
             when place = 'pool' then case when layer = 'machine' then 'machine' else 'overhead' end
             when place = 'stock' then 'moved in'
             when place = 'sold' then case when cents > 0 then 'returned' else 'cost of sales' end
             when place in ('own use', 'period') then 'own use'
             when place = 'waste' then 'waste'
             when place = 'setting' then 'opening'
             when place = 'labour' then 'labour'
             else 'imputed' end as kind,
        case when cents > 0 then 0 else 2 end as turn, cents, case when origin = 'own labour' then cents else 0 end as own_cents
    from moved
),

steps as (
    select piece, on_date, kind, turn, sum(cents) as change_cents, sum(own_cents) as own_cents
    from named group by piece, on_date, kind, turn
),

-- what normal scrap did not take leaves as spoilage, not to other pieces
exits as (select row_id, min(piece) as piece from work.exit where place = 'pool' group by row_id),

lost as (
    select
        coalesce(trace.piece, exits.piece) as piece, trace.on_date,
        sum(case when trace.from_place = 'pool' then trace.cents else -trace.cents end) as cents
    from cost.trace
    left join exits on exits.row_id = trace.row_id
    where trace.item = 'spoilage' and (trace.from_place = 'pool' and trace.to_place in ('waste', 'period') or trace.to_place = 'pool' and trace.from_place in ('waste', 'period'))
    group by all
),

events as (
    select upper(replace(name, ' ', '')) as name from settings.event
    union select event from records.sales where event is not null
    union select event from records.purchases where event is not null
    union select event from records.hours where event is not null
),

marks as (
    select piece, finished_on as on_date, 0 as number, true as finished, cast(null as boolean) as away
    from work.piece where finished_on is not null
    union all
    select bridge.piece, moves.on_date, moves.row_id, null, lower(moves.place) <> 'shop' and upper(replace(moves.place, ' ', '')) not in (select name from events)
    from records.moves
    join records.moves_piece as bridge on bridge.row_id = moves.row_id
),

course as (
    select piece, on_date, turn, 0 as number, kind, cast(null as boolean) as finished, cast(null as boolean) as away, change_cents, own_cents, cast(null as hugeint) as label_cents
    from steps
    union all select piece, on_date, 1, number, 'mark', finished, away, 0, 0, 0 from marks
    union all select piece, on_date, 3, 0, 'spoilage', null, null, 0, 0, cents from lost
),

staged as (
    select
        *,
        case when coalesce(last_value(away ignore nulls) over so_far, false) then 'consigned'
             when coalesce(bool_or(finished) over so_far, false) then 'finished'
             else 'in progress' end as stage,
        sum(change_cents) over so_far as balance_cents, sum(own_cents) over so_far as own_balance_cents
    from course
    window so_far as (partition by piece order by on_date, turn, number, kind rows unbounded preceding)
),

turned as (select *, coalesce(lag(stage) over (partition by piece order by on_date, turn, number, kind), 'in progress') as stage_before from staged),

movements as (
    select piece, on_date, stage, kind, change_cents as cents, change_cents, own_cents from turned where kind not in ('mark', 'spoilage')
    union all
    select piece, on_date, stage_before, 'moved out', -balance_cents, -balance_cents, -own_balance_cents from turned where kind = 'mark' and stage <> stage_before and balance_cents <> 0
    union all
    select piece, on_date, stage, 'moved in', balance_cents, balance_cents, own_balance_cents from turned where kind = 'mark' and stage <> stage_before and balance_cents <> 0
    union all
    select piece, on_date, stage, 'spoilage', -label_cents, 0, 0 from turned where kind = 'spoilage'
    union all
    select piece, on_date, stage, 'moved out', label_cents, 0, 0 from turned where kind = 'spoilage'
)

select
    piece, on_date, month_of(on_date) as month, stage, kind,
    cast(sum(cents) as bigint) as cents, cast(sum(change_cents) as bigint) as change_cents, cast(sum(own_cents) as bigint) as own_cents
from movements
group by piece, on_date, stage, kind
