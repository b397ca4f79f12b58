-- One row per stretch of work and piece that a pool's cost goes by, with how much of the driver it
-- is.
-- Bench hours are attended hours of bench work; a machine's own pool goes by the hours that it ran.
-- Work without a piece, or on a piece that is sold, counts in the rate but takes no overhead. Which
-- pools go by it is cost._pool_driver.
-- @view
with wanted as (select distinct layer, driver_of from cost._pool_driver),

covered as (
    select row_id, sum(seconds) as seconds from work.hours_piece where assumed group by row_id
),

worked as (
    select
        hours.row_id, hours.on_date, hours.day_turn, hours.operation, hours.machine,
        hours.attended and hours.kind = 'bench' as bench,
        case when shares.after_sale then null else shares.piece end as piece,
        coalesce(shares.rework, hours.rework) as rework,
        coalesce(shares.seconds, hours.seconds) as seconds,
        coalesce(shares.assumed, false) as assumed, false as estimated
    from work.hours
    left join work.hours_piece as shares on shares.row_id = hours.row_id
    union all by name
    -- the part of a stretch without a piece that covered none
    select
        hours.row_id, hours.on_date, hours.day_turn, hours.operation, hours.machine,
        hours.attended and hours.kind = 'bench' as bench,
        hours.rework, hours.seconds - covered.seconds as seconds, false as assumed,
        false as estimated
    from work.hours
    join covered on covered.row_id = hours.row_id and covered.seconds < hours.seconds
    union all by name
    select
        row_id, on_date, operation, true as bench, piece, false as rework, seconds,
        false as assumed, true as estimated
    from work.hours_missing
    union all by name
    select
        row_id, on_date, operation, machine, false as bench, piece, false as rework, seconds,
        false as assumed, true as estimated
    from work.machine_missing
),

by_bench as (
    select
        wanted.*, worked.row_id, worked.on_date, worked.day_turn, worked.operation, worked.piece,
        worked.rework, worked.assumed, worked.estimated, worked.seconds as driver
    from worked
    join wanted on wanted.layer = 'overhead' and wanted.driver_of = 'bench hours'
    where worked.bench
),

by_machine_hours as (
    select
        wanted.*, worked.row_id, worked.on_date, worked.day_turn, worked.operation, worked.piece,
        worked.rework, worked.assumed, worked.estimated, worked.seconds as driver
    from worked
    join wanted on wanted.layer = 'overhead' and wanted.driver_of = 'machine hours'
    where worked.machine is not null
),

by_labour as (
    select
        wanted.*, labour.row_id, labour.on_date, labour.day_turn, labour.operation,
        case when labour.place = 'piece' then labour.piece end as piece, labour.rework,
        labour.assumed, labour.estimated, labour.cents as driver
    from cost._labour as labour
    join wanted on wanted.layer = 'overhead' and wanted.driver_of = 'labour cost'
    where labour.kind = 'bench'
),

by_machine as (
    select
        wanted.*, worked.row_id, worked.on_date, worked.day_turn, worked.operation, worked.piece,
        worked.rework, worked.assumed, worked.estimated, worked.seconds as driver
    from worked
    join wanted on wanted.layer = 'machine' and wanted.driver_of = worked.machine
)

select * from by_bench
union all by name
select * from by_machine_hours
union all by name
select * from by_labour
union all by name
select * from by_machine
