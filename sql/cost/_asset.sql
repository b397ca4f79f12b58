-- One row per machine or other equipment with what it cost and over which months its cost is spread
-- (straight line). A receipt that names the machine is its cost; else its cost is the setting's,
-- there from the start.
-- @key row_id
with machines as (
    select * from settings.machine
    qualify row_number() over (partition by name order by from_date, position, row_id) = 1
),

bought as (
    select row_id, on_date, receipt, item, quantity, machine, cents
    from cost._landed where category = 'equipment'
),

receipted as (
    select
        bought.row_id, bought.on_date, bought.machine, bought.cents, 'receipt' as from_place,
        coalesce(machines.salvage_cents, 0) as salvage_cents, machines.months,
        row_number() over (
            partition by bought.machine
            order by
                bought.on_date, bought.receipt, bought.item, bought.quantity, bought.cents, bought.row_id
        ) as number
    from bought
    left join machines on machines.name = bought.machine
),

owned as (
    select
        machines.row_id, greatest(coalesce(machines.bought, shop.start), shop.start) as on_date,
        machines.name as machine, machines.cost_cents as cents, 'setting' as from_place,
        machines.salvage_cents, machines.months, 1 as number
    from machines
    cross join settings.shop
    where machines.cost_cents > 0
        and machines.name not in (select machine from bought where machine is not null)
)

select
    row_id, on_date, machine, cents, from_place,
    -- the salvage value stands once, on the first receipt of a machine
    case when number = 1 then least(salvage_cents, cents) else 0 end as salvage_cents,
    coalesce(months, 0) as months
from (select * from receipted union all by name select * from owned)
