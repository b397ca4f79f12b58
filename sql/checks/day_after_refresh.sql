-- A record of a day after the refresh: it counts, since only a calendar holds plans, and the last
-- record stands for today.
-- If the day is a slip of the pen, rent and waiting run on to it.
-- @severity warning
select recorded_day.record, recorded_day.row_id, max(recorded_day.on_date) as on_date
from work.recorded_day join settings.shop on recorded_day.on_date > shop.as_of
group by recorded_day.record, recorded_day.row_id
