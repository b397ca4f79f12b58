-- One row per month's part of consumables and fittings that nobody logged: what a count found used, or a
-- purchase spread by day. A count settles the stretch before it by driver (`work._count_driver`). A
-- stretch after the last count, if no use was logged in it, spreads each purchase by day until the
-- item's next one (the last over the usual gap); a month without a driver keeps its part in stock,
-- and so does one in which nothing was finished with what is some pieces' finish. Purchases that
-- overlap in a month are one draw on several lots.
-- @key use_id, lot_id
-- @check quantity > 0
with items as (
    select item, category, unit
    from work.item where category in ('abrasive', 'finish', 'consumable', 'packaging')
),

weighed as (
    select row_id, sum(weight) as weight from work._count_driver group by row_id
),

short as (
    select
        counted.flow, item.category, item.unit, counted.row_id,
        coalesce(counted.after_on, date '0001-01-01') as after_on, counted.on_date,
        -- a piece takes no more of a fitting than it needs
        cast(case when item.category = 'hardware' then least(-counted.found, weighed.weight)
                  else -counted.found end as bigint) as quantity
    from work.counted
    join work.item on item.item = counted.flow
    join weighed on weighed.row_id = counted.row_id
),

months_used as (
    select short.row_id, month.month, month.number, month.last_on, sum(driver.weight) as weight
    from short
    join work._count_driver as driver on driver.row_id = short.row_id
    join work.month on month.month = driver.month
    group by short.row_id, month.month, month.number, month.last_on
),

by_count as (
    select
        draw_id(short.row_id, 8 + months_used.number) as use_id, short.row_id,
        least(months_used.last_on, short.on_date) as on_date,
        short.flow, short.category, short.unit,
        greatest(short.after_on, months_used.month - 1) as after_on,
        least(short.on_date, months_used.last_on) as to_on,
        share(
            short.quantity, sum(months_used.weight) over so_far - months_used.weight,
            sum(months_used.weight) over so_far, sum(months_used.weight) over whole
        ) as quantity,
        0 as from_quantity, false as spread
    from short
    join months_used on months_used.row_id = short.row_id
    window whole as (partition by short.row_id),
        so_far as (partition by short.row_id order by months_used.number rows unbounded preceding)
),

last_count as (select flow, max(on_date) as on_date from work._count group by flow),

-- also what is told in a unit of no use
logged as (
    select flow, max(on_date) as on_date
    from (
        select flow, on_date from work.use where source = 'usage'
        union all by name
        select usage.item as flow, usage.on_date
        from records.usage
        semi join work.unmeasured on unmeasured.row_id = usage.row_id
    )
    group by flow
),

open_lots as (
    select
        lot.lot_id, lot.flow, items.category, items.unit, lot.on_date, lot.quantity,
        -- the next day on which it was bought: lots of one day last equally long
        min(lot.on_date) over (
            partition by lot.flow
            order by lot.on_date range between interval 1 day following and unbounded following
        ) as next_on
    from work.lot
    join items on items.item = lot.flow
    left join last_count on last_count.flow = lot.flow
    left join logged on logged.flow = lot.flow
    where lot.on_date > coalesce(last_count.on_date, date '0001-01-01')
        and coalesce(logged.on_date, date '0001-01-01')
            <= coalesce(last_count.on_date, date '0001-01-01')
        and lot.quantity > 0
),

bought_days as (select distinct flow, on_date from work.lot),

gaps as (
    select flow, lead(on_date) over (partition by flow order by on_date) - on_date as days
    from bought_days
),

usual_gap as (
    select flow, quantile_disc(days, 0.5) as days from gaps where days is not null group by flow
),

spans as (
    select open_lots.*, greatest(coalesce(next_on - on_date, usual_gap.days, 90), 1) as days
    from open_lots
    left join usual_gap on usual_gap.flow = open_lots.flow
),

lot_months as (
    select
        spans.*, month.month, month.number, month.last_on,
        least(greatest(month.month - spans.on_date, 0), spans.days) as from_day,
        least(greatest(month.last_on + 1 - spans.on_date, 0), spans.days) as to_day
    from spans
    join work.month
        on month.last_on >= spans.on_date
        and month.month < spans.on_date + cast(spans.days as integer)
),

driven as (
    select distinct items.item as flow, driver.month
    from items
    join work._driver_use as driver on driver.category = items.category
    where items.item not in (select item from work._finish_of)
    union
    select finish_of.item as flow, driver.month
    from work._driver_use as driver
    join work.piece on piece.piece = driver.piece
    join work._finish_of as finish_of on finish_of.finish = piece.finish
    where driver.category = 'finish'
),

by_day as (
    select
        draw_id(
            min(lot_months.lot_id) over (partition by lot_months.flow, lot_months.number),
            8 + lot_months.number
        ) as use_id,
        lot_months.lot_id as row_id, lot_months.last_on as on_date, lot_months.flow,
        lot_months.category, lot_months.unit, lot_months.lot_id,
        lot_months.month - 1 as after_on, lot_months.last_on as to_on,
        share(quantity, from_day, to_day, days) as quantity,
        cut(quantity, from_day, days) as from_quantity, true as spread
    from lot_months
    join driven on driven.flow = lot_months.flow and driven.month = lot_months.month
)

select
    use_id, row_id, on_date, flow, category, unit, lot_id, after_on, to_on,
    quantity, from_quantity, spread
from (select * from by_count union all by name select * from by_day)
where quantity > 0
