-- A record of a day after the refresh: it counts, since only a calendar holds plans, and the last
-- record stands for today.
-- If the day is a slip of the pen, rent and waiting run on to it.
-- @severity warning
with days as (
    select 'purchases' as record, row_id, on_date from records.purchases
    union all
    select 'pieces', row_id, greatest(started, finished, ended, listed) from records.pieces
    union all select 'hours', row_id, on_date from records.hours
    union all select 'pours', row_id, on_date from records.pours
    union all select 'usage', row_id, on_date from records.usage
    union all select 'inspections', row_id, on_date from records.inspections
    union all select 'orders', row_id, greatest(on_date, cancelled) from records.orders
    union all select 'sales', row_id, on_date from records.sales
    union all select 'payments', row_id, on_date from records.payments
    union all select 'moves', row_id, on_date from records.moves
    union all select 'counts', row_id, on_date from records.counts
)

select days.record, days.row_id, days.on_date
from days join settings.shop on days.on_date > shop.as_of
