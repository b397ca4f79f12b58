-- A stretch of work whose pay is not all in pieces or in its month.
-- @severity error
with traced as (
    select row_id, sum(cents) as cents from cost.movement where from_place = 'labour' group by row_id
),

paid as (
    select hours.row_id, cut(hours.seconds, thousandths(rates.rate_cents), 3600000) as cents
    from work.hours
    asof left join settings.person_rate as rates
        on rates.name = coalesce(hours.person, (select name from work.first_owner))
        and rates.from_date <= hours.on_date
    where hours.attended
)

select paid.row_id, paid.cents, traced.cents as traced from paid
left join traced on traced.row_id = paid.row_id
where coalesce(paid.cents, 0) <> coalesce(traced.cents, 0)
