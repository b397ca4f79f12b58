-- One row per stretch of attended work, with its pay at the person's rate of that day. Nobody named
-- means the shop's first owner: assumed, but where there was one person that day. Own labour is
-- that of owners and partners who are not paid for it.
-- @key row_id
with rates as (select * from settings.person_rate),

people as (select name, min(from_date) as first_on from rates group by name),

named as (
    select
        hours.*, coalesce(hours.person, first_owner.name) as worker,
        hours.person is null and (
            select count(*) from people
            where first_on <= greatest(hours.on_date, (select min(first_on) from people))
        ) > 1 as assumed
    from work.hours
    left join work.first_owner on true
    where hours.attended
)

select
    named.row_id, named.on_date, named.day_turn, named.operation, named.kind, named.seconds, named.assumed,
    named.worker, rates.row_id as paid_row_id,
    case when rates.role in ('owner', 'partner') and not rates.paid then 'own labour'
         else 'labour' end as origin,
    coalesce(cut(named.seconds, thousandths(rates.rate_cents), 3600000), 0) as cents
from named
asof left join rates on rates.name = named.worker and rates.from_date <= named.on_date
