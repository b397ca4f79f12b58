-- One row per month and figure beside the lines of its result: hours by kind (in seconds), units sold, owners' pay that is really paid.
-- As it is now, closed months too.
-- @key month, figure
with owners as (select distinct name from settings.person_rate where role in ('owner', 'partner')),

worked as (
    select
        month_of(hours.on_date) as month,
        sum(hours.seconds) filter (where hours.kind = 'bench') as bench_seconds,
        sum(hours.seconds) filter (where hours.kind = 'shop') as shop_seconds,
        sum(hours.seconds) filter (where hours.kind = 'selling') as selling_seconds,
        sum(hours.seconds) filter (where hours.rework) as rework_seconds,
        sum(hours.seconds) filter (where owners.name is not null or hours.person is null) as owner_seconds
    from work.hours
    left join owners on owners.name = hours.person
    where hours.attended
    group by month_of(hours.on_date)
),

sold as (select month, sum(units) filter (where units > 0) as units from money._sale group by month),

paid as (
    select line.month, -sum(line.cents) as cents
    from money._plain_line as line
    join settings.person_rate as rate on rate.row_id = line.paid_row_id and rate.role in ('owner', 'partner')
    where line.layer = 'labour' and not line.own_labour
    group by line.month
),

figures as (
    select month, unnest(['bench seconds', 'shop seconds', 'selling seconds', 'rework seconds', 'owner seconds']) as figure,
        unnest([bench_seconds, shop_seconds, selling_seconds, rework_seconds, owner_seconds]) as amount
    from worked
    union all select month, 'pieces sold', units from sold
    union all select month, 'owners paid', cents from paid
)

select month, figure, cast(amount as bigint) as amount from figures where amount is not null
