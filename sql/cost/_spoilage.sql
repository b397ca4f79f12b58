-- One row per movement out of the pool of spoilage at a month's end: into good pieces, or to the month as a loss.
-- First an order's test pieces go to its other pieces (a test without such is a cost of the month). Then scrapped pieces, with
-- what tests gave them, go to the good pieces finished that month in their circle, as far as scrap is normal; the rest is
-- a loss. Shares go by units.
with spoiled as (
    select
        spoiled.*, piece.order_no, month.last_on,
        case shop.scrap_circle when 'product' then piece.product when 'order' then coalesce(piece.order_no, '') else '' end as circle,
        piece.product
    from cost._spoiled as spoiled
    join work.piece on piece.piece = spoiled.piece
    join work.month on month.month = spoiled.month
    cross join settings.shop
),

tests as (select * from spoiled where kind = 'test'),

heirs as (
    select
        piece.order_no, piece.piece, piece.units, piece.status,
        sum(piece.units) over (partition by piece.order_no order by piece.piece) as to_units,
        sum(piece.units) over (partition by piece.order_no) as all_units
    from work.piece
    where piece.order_no is not null and piece.status <> 'test'
),

test_shares as (
    select
        tests.month, tests.last_on, tests.piece as from_piece, tests.row_id, tests.origin, heirs.piece, heirs.status,
        case when heirs.piece is null then tests.cents
             else cut(tests.cents, heirs.to_units, heirs.all_units) - cut(tests.cents, heirs.to_units - heirs.units, heirs.all_units) end as cents
    from tests
    left join heirs on heirs.order_no = tests.order_no
),

-- a scrapped heir hands what a test gave it on with its own cost
scrapped as (
    select month, last_on, circle, piece, origin, min(row_id) as row_id, sum(cents) as cents
    from (
        select month, last_on, circle, piece, origin, row_id, cents from spoiled where kind <> 'test'
        union all
        select test_shares.month, test_shares.last_on, spoiled.circle, test_shares.piece, test_shares.origin, spoiled.row_id, test_shares.cents
        from test_shares
        join (select distinct on (piece) piece, circle, row_id from spoiled where kind <> 'test' order by piece, row_id) as spoiled on spoiled.piece = test_shares.piece
        where test_shares.status = 'scrapped'
    )
    group by month, last_on, circle, piece, origin
),

before_spoilage as (
    select base.piece, sum(base.cents) as cents
    from cost._piece_base as base
    join work.piece on piece.piece = base.piece
    where base.on_date <= last_day(piece.finished_on)
    group by base.piece
),

good as (
    select
        month_of(piece.finished_on) as month, piece.piece, piece.units, coalesce(before_spoilage.cents, 0) as cents,
        case shop.scrap_circle when 'product' then piece.product when 'order' then coalesce(piece.order_no, '') else '' end as circle
    from work.piece
    cross join settings.shop
    left join before_spoilage on before_spoilage.piece = piece.piece
    where piece.finished_on is not null and piece.status not in ('scrapped', 'test', 'lost')
),

good_shares as (
    select
        good.*, sum(units) over (partition by month, circle order by piece) as to_units, sum(units) over (partition by month, circle) as all_units
    from good
),

allowed as (
    select good.month, good.circle, cut(sum(good.cents), any_value(shop.normal_scrap_ppm), 1000000) as cents
    from good cross join settings.shop
    group by good.month, good.circle
),

scrap_running as (
    select
        scrapped.*, coalesce(allowed.cents, 0) as allowed_cents,
        sum(scrapped.cents) over (partition by scrapped.month, scrapped.circle order by scrapped.piece, scrapped.origin) as to_cents,
        sum(scrapped.cents) over (partition by scrapped.month, scrapped.circle) as all_cents
    from scrapped
    left join allowed on allowed.month = scrapped.month and allowed.circle = scrapped.circle
),

normal as (
    select
        *,
        case when all_cents <= 0 then 0
             else cut(least(all_cents, allowed_cents), to_cents, all_cents) - cut(least(all_cents, allowed_cents), to_cents - cents, all_cents) end as normal_cents
    from scrap_running
),

-- for each origin what was scrapped and who takes it are laid end to end and cut at each other's ends
scrap_ends as (
    select
        month, circle, origin, row_id, last_on,
        sum(normal_cents) over (partition by month, circle, origin order by piece rows unbounded preceding) as end_at,
        sum(normal_cents) over (partition by month, circle, origin) as all_cents
    from normal where normal_cents > 0
),

origins as (select distinct month, circle, origin, last_on, all_cents from scrap_ends),

good_ends as (
    select origins.month, origins.circle, origins.origin, good_shares.piece, cut(origins.all_cents, to_units, all_units) as end_at
    from origins
    join good_shares on good_shares.month = origins.month and good_shares.circle = origins.circle
    where cut(origins.all_cents, to_units, all_units) > cut(origins.all_cents, to_units - units, all_units)
),

points as (
    select month, circle, origin, end_at, max(row_id) as row_id, max(piece) as piece
    from (
        select month, circle, origin, end_at, row_id, null as piece from scrap_ends
        union all select month, circle, origin, end_at, null, piece from good_ends
    )
    group by month, circle, origin, end_at
),

stretches as (
    select
        month, circle, origin, end_at - coalesce(lag(end_at) over (partition by month, circle, origin order by end_at), 0) as cents,
        first_value(row_id ignore nulls) over rest as row_id, first_value(piece ignore nulls) over rest as piece
    from points
    window rest as (partition by month, circle, origin order by end_at rows between current row and unbounded following)
),

movements as (
    select last_on as on_date, row_id, 'period' as place, origin, cast(null as varchar) as piece, cents from test_shares where piece is null
    union all
    select last_on, row_id, 'piece', origin, piece, cents from test_shares where piece is not null and status <> 'scrapped'
    union all
    select last_day(month), row_id, 'piece', origin, piece, cents from stretches
    union all
    select last_on, row_id, 'waste', origin, piece, cents - normal_cents from normal
)

select on_date, row_id, place, 'spoilage' as layer, origin, piece, cast(cents as bigint) as cents from movements where cents <> 0
