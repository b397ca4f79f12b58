-- A date that breaks the order of its file's days, and fits between its neighbours with day and
-- month turned: a slip of the pen, perhaps.
-- It counts as written. Only a file that is in order otherwise tells: at most one step in ten of it
-- goes the other way. Rows of one day that follow one another are one stretch.
-- @severity warning
with placed as (
    -- pieces are listed as they were begun
    select days.record, days.row_id, days.on_date, place.file, place.sheet, place.row
    from work.recorded_day as days
    join intake.row as place on place.row_id = days.row_id
    where days.field in ('date', 'started')
),

stretches as (
    select *, lag(on_date) over in_file as before
    from placed
    window in_file as (partition by record, file, sheet order by row, row_id)
    qualify on_date is distinct from before
),

-- newest first in some files: their days count backwards
ways as (
    select
        record, file, sheet, count(*) filter (where on_date > before) as forward,
        count(*) filter (where on_date < before) as back, if(forward >= back, 1, -1) as way
    from stretches
    group by record, file, sheet
),

beside as (
    select
        stretches.*, ways.way,
        lag(before) over in_file as earlier, lead(on_date) over in_file as after,
        lead(on_date, 2) over in_file as later
    from stretches
    join ways using (record, file, sheet)
    where forward + back >= 4 and least(forward, back) <= greatest(1, (forward + back) // 10)
    window in_file as (partition by record, file, sheet order by row, row_id)
),

turned as (
    select
        *, case when day(on_date) <= 12
             then make_date(year(on_date), day(on_date), month(on_date)) end as fits,
        way * (on_date - before) < 0 or way * (after - on_date) < 0 as breaks,
        coalesce(way * (before - earlier) < 0, false)
            or coalesce(way * (fits - before) < 0, false)
            or coalesce(way * (after - fits) < 0, false)
            or coalesce(way * (later - after) < 0, false) as still_breaks
    from beside
)

select record, row_id, on_date, fits
from turned
where fits is not null and breaks and not still_breaks
