-- More hours of one person on one day than a day has: a row stands twice, or a figure is a slip of
-- the pen.
-- Rows that name nobody may be anybody's.
-- @severity warning
with people as (select greatest(count(distinct name), 1) as number from settings.person_rate),

days as (
    select
        person, on_date, count(*) as records, round(sum(seconds) / 3600, 2) as hours,
        arg_max(row_id, (seconds, row_id)) as row_id
    from records.hours where attended group by person, on_date
)

select days.person, days.on_date, days.hours, days.records, days.row_id
from days cross join people
where days.hours > case when days.person is null then 24 * people.number else 24 end
