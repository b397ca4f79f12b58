-- One row per piece and thing that is logged of it: an operation's attended time, a machine's time
-- in it, the mix of its pours by purpose, what was taken off the shelf for it by item. A taking of
-- zero says that there is none. Rework, and work on a piece that is out of the shop, never stand
-- for the thing itself. A machine that ran alone has done the operation, but nobody's time.
-- `by_size` is what grows with a piece's surface; on what `bears` a piece's finish and wood have a
-- bearing.
-- @key piece, want, name, part
with worked as (
    select
        logged.piece, hours.operation, hours.machine, hours.attended, logged.seconds,
        hours.operation in ('sanding', 'finishing', 'pouring') as bears
    from work._logged as logged
    join work.hours on hours.row_id = logged.row_id
    where hours.kind = 'bench' and not logged.rework and not logged.after_sale
),

work as (
    select
        piece, 'work' as want, operation as name, '' as part,
        sum(case when attended then seconds else 0 end) as amount, count(*) as records,
        true as by_size, bears
    from worked group by piece, operation, bears
),

machines as (
    select
        piece, 'machine' as want, operation as name, machine as part, sum(seconds) as amount,
        count(*) as records, true as by_size, bears
    from worked where machine is not null group by piece, operation, machine, bears
),

mixes as (
    select
        shares.piece, pour.purpose, pour.resin, pour.pour,
        cut(
            pour.resin_mg,
            case when pour.deposited_mg > 0 then shares.deposited_mg else 1 end,
            case when pour.deposited_mg > 0 then pour.deposited_mg else pour.pieces end
        ) as amount
    from work.pour_piece as shares
    join work.pour on pour.pour = shares.pour
    where not shares.rework and not shares.after_sale and pour.resin_mg > 0
),

resin as (
    select
        piece, 'resin' as want, coalesce(purpose, '') as name, '' as part, sum(amount) as amount,
        count(*) as records, true as by_size, true as bears
    from mixes group by piece, coalesce(purpose, '')
),

-- a row that names several pieces is shared as its cost is
takings as (
    select
        usage.row_id, usage.on_date, usage.item, item.category, bridge.piece, piece.units,
        in_base(
            usage.quantity, usage.quantity_unit, item.unit, item.density_ug_per_ul, item.kit_ul,
            kit_mg := item.kit_mg
        ) as quantity,
        coalesce(case item.driver
            when 'area' then piece.area_mm2
            when 'volume' then piece.blank_mm3
            else piece.units end, 0) as weight
    from records.usage
    join work.item on item.item = usage.item
    join records.usage_piece as bridge on bridge.row_id = usage.row_id
    join work.piece on piece.piece = bridge.piece
    where item.category in ('colourant', 'abrasive', 'finish', 'hardware', 'consumable')
),

balanced as (
    select
        * replace (
            case when sum(weight) over (partition by row_id) = 0 then units else weight end as weight
        )
    from takings
    where quantity >= 0
),

shared as (
    select
        *,
        share(
            quantity, sum(weight) over so_far - weight, sum(weight) over so_far,
            sum(weight) over (partition by row_id)
        ) as amount
    from balanced
    window so_far as (partition by row_id order by piece rows unbounded preceding)
),

items as (
    select
        piece, 'item' as want, item as name, category as part, sum(amount) as amount,
        count(*) as records, category <> 'hardware' as by_size,
        category in ('finish', 'abrasive', 'colourant') as bears
    from shared
    where not exists (
        select 1 from work.out
        where out.piece = shared.piece and out.from_on < shared.on_date
            and (out.to_on is null or shared.on_date <= out.to_on)
    ) and not exists (
        select 1 from work.rework_window as again
        where again.piece = shared.piece and again.from_on <= shared.on_date
            and (again.to_on is null or shared.on_date <= again.to_on)
    )
    group by piece, item, category
),

things as (
    select * from work
    union all by name select * from machines
    union all by name select * from resin
    union all by name select * from items
)

select
    piece, want, name, part, cast(amount as bigint) as amount, cast(records as bigint) as records,
    by_size, bears
from things
