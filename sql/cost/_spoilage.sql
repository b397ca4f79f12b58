-- One row per movement out of the pool of spoilage at a month's end: into good pieces, or to the
-- month as a loss. First an order's test pieces go to its other pieces (a test without such is a
-- cost of the month). Then scrapped pieces, with what tests gave them that month, go to the good
-- pieces finished that month in their circle, as far as scrap is normal; the rest is a loss. It is
-- normal in the part that the rule's share of the good pieces' cost is of what was scrapped, both
-- before anything was saved from it. What a piece takes goes by its good units; the scrapped
-- pieces' costs are laid end to end along that.
with placed as (select * from cost._carrier),

-- scrap hands on what a test gave it that month with its own cost; what it took over earlier is
-- lost with it
scrapped as (
    select
        spoiled.month, placed.circle, spoiled.piece, spoiled.origin, min(spoiled.row_id) as row_id,
        sum(spoiled.cents) as cents, sum(spoiled.gross_cents) as gross_cents
    from (
        select month, piece, origin, row_id, cents, gross_cents
        from cost._spoiled where kind <> 'test'
        union all by name
        select month, heir as piece, origin, row_id, cents, cents as gross_cents
        from cost._spoilage_test where handed_on
    ) as spoiled
    join placed on placed.piece = spoiled.piece
    group by spoiled.month, placed.circle, spoiled.piece, spoiled.origin
),

before_spoilage as (
    -- what was saved came off the scrapped units
    select base.piece, sum(base.cents) as cents
    from cost._piece_base as base
    join placed on placed.piece = base.piece
    where base.on_date <= last_day(placed.finished_on)
        and not (base.cents < 0 and base.row_id in (select lot_id from cost._salvage))
    group by base.piece
),

good as (
    select
        placed.month, placed.circle, placed.piece,
        placed.good_units as units,
        cut(coalesce(before_spoilage.cents, 0), placed.good_units, placed.units) as cents,
        sum(placed.good_units) over so_far as to_units,
        sum(placed.good_units) over whole as all_units
    from placed
    left join before_spoilage on before_spoilage.piece = placed.piece
    where placed.finished_on is not null and placed.good and placed.good_units > 0
    window whole as (partition by placed.month, placed.circle),
        so_far as (partition by placed.month, placed.circle order by placed.piece)
),

allowed as (
    select
        good.month, good.circle,
        cut(sum(good.cents), any_value(rule.normal_scrap_ppm), 1000000) as cents
    from good
    asof left join settings.rule on rule.from_date <= last_day(good.month)
    group by good.month, good.circle
),

running as (
    select
        scrapped.* exclude (gross_cents), sum(scrapped.cents) over whole as all_cents,
        sum(scrapped.cents) over so_far as to_cents,
        sum(scrapped.gross_cents) over whole as all_gross_cents,
        -- credits may leave the good pieces with less than nothing, which allows no scrap
        case when all_gross_cents > greatest(allowed.cents, 0)
             then cut(all_cents, greatest(allowed.cents, 0), all_gross_cents)
             else all_cents end as all_normal_cents
    from scrapped
    left join allowed on allowed.month = scrapped.month and allowed.circle = scrapped.circle
    window whole as (partition by scrapped.month, scrapped.circle),
        so_far as (
            partition by scrapped.month, scrapped.circle order by scrapped.piece, scrapped.origin
        )
),

normal as (
    select
        *,
        case when all_cents > 0 then cut(all_normal_cents, to_cents, all_cents)
             else 0 end as end_at,
        case when all_cents > 0 then share(all_normal_cents, to_cents - cents, to_cents, all_cents)
             else 0 end as normal_cents
    from running
),

circles as (select distinct month, circle, all_normal_cents from normal),

ends as (
    select month, circle, end_at, row_id, origin from normal where normal_cents > 0
    union all by name
    select circles.*, cut(all_normal_cents, to_units, all_units) as end_at, good.piece
    from circles
    join good on good.month = circles.month and good.circle = circles.circle
    where share(all_normal_cents, to_units - units, to_units, all_units) > 0
),

points as (
    select month, circle, end_at, max(row_id) as row_id, max(origin) as origin, max(piece) as piece
    from ends group by month, circle, end_at
),

stretches as (
    select
        month, circle, end_at
            - coalesce(lag(end_at) over (partition by month, circle order by end_at), 0) as cents,
        first_value(row_id ignore nulls) over rest as row_id,
        first_value(origin ignore nulls) over rest as origin,
        first_value(piece ignore nulls) over rest as piece
    from points
    window rest as (
        partition by month, circle order by end_at rows between current row and unbounded following
    )
),

movements as (
    select month, row_id, 'period' as place, origin, cents
    from cost._spoilage_test where heir is null
    union all by name
    select month, row_id, 'piece' as place, origin, heir as piece, cents
    from cost._spoilage_test where heir is not null and not handed_on
    union all by name
    select month, row_id, 'piece' as place, origin, piece, cents from stretches
    union all by name
    select month, row_id, 'waste' as place, origin, piece, cents - normal_cents as cents from normal
)

select
    last_day(month) as on_date, row_id, place, 'spoilage' as layer, origin, piece,
    cast(cents as bigint) as cents
from movements where cents <> 0
