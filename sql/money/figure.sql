-- One row per month and figure beside the lines of its result: hours by kind (in seconds), units
-- sold, owners' pay that is really paid.
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
        sum(hours.seconds) filter (
            where owners.name is not null or hours.person is null
        ) as owner_seconds
    from work.hours
    left join owners on owners.name = hours.person
    where hours.attended
    group by month_of(hours.on_date)
),

sold as (
    select month, sum(units) filter (where units > 0) as units from money._sale group by month
),

paid as (
    select line.month, -sum(line.cents) as cents
    from money._line_sum as line
    join settings.person_rate as rate
        on rate.row_id = line.paid_row_id and rate.role in ('owner', 'partner')
    where line.layer = 'labour' and not line.own_labour
    group by line.month
),

figures as (
    select month, unnest([
        { 'figure': 'bench seconds', 'amount': bench_seconds },
        { 'figure': 'shop seconds', 'amount': shop_seconds },
        { 'figure': 'selling seconds', 'amount': selling_seconds },
        { 'figure': 'rework seconds', 'amount': rework_seconds },
        { 'figure': 'owner seconds', 'amount': owner_seconds }
    ], recursive := true)
    from worked
    union all by name select month, 'pieces sold' as figure, units as amount from sold
    union all by name select month, 'owners paid' as figure, cents as amount from paid
)

select month, figure, cast(amount as bigint) as amount from figures where amount is not null
