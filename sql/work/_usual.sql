-- One row per piece and operation that most comparable pieces have: the seconds usual for its size.
-- Comparable are finished pieces of its product and finish, else of its product; at least three,
-- more than half of which have the operation. The middle one of their seconds by surface, times the
-- piece's own surface; by unit where the piece's size, or all of theirs, is unknown. Rework is left
-- out.
-- @key piece, operation
with pieces as (
    select
        piece, product, finish, status, opening, units,
        case when area_mm2 > 0 then area_mm2 end as area_mm2
    from work.piece
),

logged as (
    -- a machine that runs alone has done the operation, but nobody's time
    select
        logged.piece, hours.operation,
        sum(case when hours.attended then logged.seconds else 0 end) as seconds
    from work._logged as logged
    join work.hours on hours.row_id = logged.row_id
    where hours.kind = 'bench' and not hours.rework and not logged.after_sale
    group by logged.piece, hours.operation
),

models as (select * from pieces where status = 'finished' and not opening),

groups as (
    select 'finish' as level, product, finish, count(*) as pieces
    from models where finish is not null group by product, finish
    union all by name
    select 'product' as level, product, count(*) as pieces from models group by product
),

chosen as (
    select pieces.*, coalesce(by_finish.level, by_product.level) as level
    from pieces
    left join groups as by_finish
        on by_finish.level = 'finish' and by_finish.product = pieces.product
        and by_finish.finish = pieces.finish and by_finish.pieces >= 3
    left join groups as by_product
        on by_product.level = 'product' and by_product.product = pieces.product
        and by_product.pieces >= 3
    where not pieces.opening
),

rates as (
    select
        models.piece, models.product, models.finish, logged.operation, logged.seconds,
        'surface' as measure, models.area_mm2 as size
    from logged
    join models on models.piece = logged.piece
    where models.area_mm2 is not null
    union all by name
    select
        models.piece, models.product, models.finish, logged.operation, logged.seconds,
        'units' as measure, models.units as size
    from logged
    join models on models.piece = logged.piece
),

by_level as (
    select *, 'finish' as level, finish as level_finish from rates where finish is not null
    union all by name
    select *, 'product' as level from rates
),

ranked as (
    select
        level, product, level_finish as finish, operation, measure, seconds, size,
        row_number() over by_speed as number, count(*) over whole as pieces
    from by_level
    window whole as (partition by level, product, level_finish, operation, measure),
        by_speed as (
            partition by level, product, level_finish, operation, measure
            order by cast(seconds as hugeint) * 1000000000000 // size, piece
        )
),

usual as (select * from ranked where number = (pieces + 1) // 2),

sized as (
    select
        chosen.piece, by_unit.operation,
        case when by_surface.seconds is not null
             then cut(by_surface.seconds, chosen.area_mm2, by_surface.size)
             else cut(by_unit.seconds, chosen.units, by_unit.size) end as seconds
    from chosen
    join usual as by_unit
        on by_unit.measure = 'units' and by_unit.level = chosen.level
        and by_unit.product = chosen.product
        and (by_unit.level = 'product' or by_unit.finish = chosen.finish)
    join groups
        on groups.level = chosen.level and groups.product = chosen.product
        and (groups.level = 'product' or groups.finish = chosen.finish)
    left join usual as by_surface
        on by_surface.measure = 'surface' and by_surface.level = by_unit.level
        and by_surface.product = by_unit.product
        and by_surface.finish is not distinct from by_unit.finish
        and by_surface.operation = by_unit.operation
        and chosen.area_mm2 is not null
    where by_unit.pieces * 2 > groups.pieces
)

select * from sized where seconds > 0
