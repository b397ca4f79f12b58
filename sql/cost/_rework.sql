-- One row per cost of mending a piece: how much of it enters the piece, and how much is a loss of
-- its month.
-- Rework is normal in the part that the rule's share of the good pieces finished in the month is of
-- the pieces mended in it, both by what they had cost without it: of a run, by its units that had to
-- be mended, all where no inspection says how many. With no such rule all rework is normal. The
-- quantity stays with the piece, which took it all the same.
-- @check sign(cents) * sign(lost_cents) >= 0
with mending as (
    select *, month_of(on_date) as month from cost._piece_cost where rework
),

looks as (
    select looks.piece, looks.on_date, coalesce(looks.quantity, piece.units) as units
    from records.inspections as looks
    join work.piece on piece.piece = looks.piece
    where looks.action = 'rework'
),

ruled as (
    select month.month, rule.normal_rework_ppm as ppm
    from work.month
    asof join settings.rule on rule.from_date <= last_day(month.month)
    where rule.normal_rework_ppm is not null
),

mended as (
    select distinct mending.month, mending.piece
    from mending
    join ruled on ruled.month = mending.month
),

finished as (
    select carrier.month, carrier.piece, carrier.good_units
    from cost._carrier as carrier
    join ruled on ruled.month = carrier.month
    where carrier.good and carrier.good_units > 0
),

judged as (
    select
        coalesce(mended.month, finished.month) as month,
        coalesce(mended.piece, finished.piece) as piece,
        mended.piece is not null as again, coalesce(finished.good_units, 0) as good_units
    from mended
    full join finished on finished.month = mended.month and finished.piece = mended.piece
),

looked as (
    select judged.month, judged.piece, sum(looks.units) as units
    from judged
    join looks on looks.piece = judged.piece and looks.on_date <= last_day(judged.month)
    group by judged.month, judged.piece
),

begun as (select piece, min(month) as month from mending group by piece),

counted as (
    select
        judged.*, piece.units,
        case when looked.units is not null then least(looked.units, piece.units)
             when begun.month <= judged.month then piece.units
             else 0 end as again_units
    from judged
    join work.piece on piece.piece = judged.piece
    left join looked on looked.month = judged.month and looked.piece = judged.piece
    left join begun on begun.piece = judged.piece
),

before as (
    select counted.month, counted.piece, sum(base.cents) as cents
    from counted
    join cost._piece_cost as base
        on base.piece = counted.piece and base.on_date <= last_day(counted.month)
    where not base.rework and base.cents > 0
    group by counted.month, counted.piece
),

measured as (
    select
        counted.month,
        sum(cut(before.cents, greatest(good_units - again_units, 0), units)) as good_cents,
        sum(case when again then cut(before.cents, again_units, units) else 0 end) as again_cents
    from counted
    join before on before.month = counted.month and before.piece = counted.piece
    group by counted.month
),

-- where nothing else was spent on what was mended there is nothing to hold it against
allowed as (
    select
        ruled.month,
        case when ruled.ppm = 0 then 0
             when again_cents > 0
             then least(cut(coalesce(good_cents, 0), ruled.ppm, 1000000), again_cents)
             else 1 end as part,
        case when ruled.ppm > 0 and again_cents > 0 then again_cents else 1 end as whole
    from ruled
    left join measured on measured.month = ruled.month
),

running as (
    select mending.*, sum(mending.cents) over so_far as to_cents
    from mending
    window so_far as (
        partition by month
        order by
            on_date, piece, layer, origin, operation, item, lot, cents, row_id, paid_row_id
        rows unbounded preceding
    )
),

parted as (
    select
        running.* exclude (month, to_cents, cents), running.cents as all_cents,
        case when allowed.month is null then running.cents
             else cut(to_cents, part, whole) - cut(to_cents - cents, part, whole)
        end as cents
    from running
    left join allowed on allowed.month = running.month
)

select
    * exclude (all_cents) replace (cast(cents as bigint) as cents),
    cast(all_cents - cents as bigint) as lost_cents
from parted
