-- A machine that was left alone ran longer, by what was begun on one day, than from one day to the fourth after it:
-- a figure is a slip of the pen.
-- @severity warning
select
    machine, on_date, round(sum(seconds) / 3600, 2) as hours, count(*) as records,
    arg_max(row_id, (seconds, row_id)) as row_id
from records.hours where not attended
group by machine, on_date having sum(seconds) > 96 * 3600
