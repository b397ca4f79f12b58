-- One row per stretch of work, with what kind of work it is and how it goes over its pieces.
-- `day_turn` is its number among the stretches of its day: by the time it began, where that is known,
-- then by length, person, operation and pieces.
-- @key row_id
with operations as (
    select name, kind, driver from settings.operation
    qualify row_number() over (partition by name order by from_date desc, position, row_id) = 1
)

select
    hours.row_id, hours.on_date, hours.person, hours.operation, hours.machine, hours.event,
    hours.seconds,
    coalesce(hours.attended, true) as attended,
    coalesce(hours.rework, false) as rework,
    coalesce(operations.kind, 'bench') as kind,
    coalesce(operations.driver, 'equal') as driver,
    row_number() over in_day as day_turn
from records.hours
left join operations on operations.name = hours.operation
window in_day as (
    partition by hours.on_date
    order by
        hours.started_at, hours.ended_at, hours.seconds, hours.person, hours.operation,
        hours.pieces, hours.machine, hours.attended, hours.rework, hours.event, hours.row_id
)
