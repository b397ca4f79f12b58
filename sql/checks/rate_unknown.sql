-- Work that costs nothing, since no pay is set for who did it that day: give them a rate in
-- [[people]] of shop.toml.
-- @severity warning
with worked as (
    select
        hours.row_id, hours.on_date, hours.seconds,
        coalesce(hours.person, first_owner.name) as person
    from work.hours
    left join work.first_owner on true
    where hours.attended
)

select
    worked.person, min(worked.on_date) as first_on, count(*) as rows,
    sum(worked.seconds) / 3600 as hours
from worked
asof left join settings.person_rate as rates
    on rates.name = worked.person and rates.from_date <= worked.on_date
where rates.row_id is null
group by worked.person
