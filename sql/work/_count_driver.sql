-- One row per count that found less of a consumable or a fitting than the book says, and day and
-- piece (or sale) that what it found used goes over, with its weight. That is what drives consumables
-- since the count before; of an item that is some pieces' finish first those of them for which no use
-- of it was logged, else all of them, and where none was worked on, any piece that was finished. A
-- fitting goes to the pieces finished since then that ought to have it and did not log it, each so
-- much as it needs, on the day of the count: what is beyond that is lost.
with items as (
    select item, category
    from work.item where category in ('abrasive', 'finish', 'hardware', 'consumable', 'packaging')
),

short as (
    select
        counted.row_id, counted.flow, items.category, counted.on_date,
        coalesce(counted.after_on, date '0001-01-01') as after_on
    from work.counted
    join items on items.item = counted.flow
    where counted.found < 0 and counted.cause = 'count'
),

logged as (
    select distinct usage.item, bridge.piece
    from records.usage
    join records.usage_piece as bridge on bridge.row_id = usage.row_id
),

driven as (
    select
        short.row_id, short.category, driver.on_date, driver.month, driver.place, driver.piece,
        driver.weight,
        case when finish_of.item is null then 3 when logged.piece is null then 1 else 2 end as turn
    from short
    join work._driver_use as driver
        on driver.category = short.category and driver.on_date > short.after_on
        and driver.on_date <= short.on_date
    left join work.piece on piece.piece = driver.piece
    left join work._finish_of as finish_of
        on finish_of.item = short.flow and finish_of.finish = piece.finish
    left join logged on logged.item = short.flow and logged.piece = driver.piece
    union all by name
    select
        short.row_id, short.category, short.on_date, month_of(short.on_date) as month,
        'piece' as place, need.piece,
        need.amount as weight, 1 as turn
    from short
    join work._fitting_need as need
        on need.item = short.flow and need.on_date > short.after_on
        and need.on_date <= short.on_date
)

select
    row_id, on_date, month, place, piece, weight,
    -- of what a piece could have logged a count tells no more than how much all of them took
    category in ('finish', 'hardware') as estimated
from driven
qualify turn = min(turn) over (partition by row_id)
