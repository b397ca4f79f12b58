-- One row per month and stage of the stock: what was there, what came, what went, what is there, at
-- cost with own pay.
-- Stages are materials on the shelf, pieces in progress, finished ones, and those out on
-- consignment (still ours). What a piece takes from the shelf, passes on by being finished or
-- moved, or takes over as normal scrap, moves between stages. `written_down_cents` is how far the
-- closing stock is worth less than it cost; it is no part of the roll-forward.
-- @key month, stage
-- @check closing_cents = opening_cents + bought_cents + imputed_cents + labour_cents +
--     machine_cents + overhead_cents + returned_cents + moved_in_cents - sold_cents -
--     beyond_normal_cents - wasted_cents - shortage_cents - own_use_and_gifts_cents - used_up_cents
--     - moved_out_cents
with stages as (
    select
        unnest(['materials', 'in progress', 'finished', 'consigned']) as stage,
        unnest([1, 2, 3, 4]) as number
),

steps as (
    select month, 'materials' as stage, kind, cents, cents as change_cents, 0 as own_cents
    from money._stock_step
    union all by name
    select
        month, stage, kind, sum(cents) as cents, sum(change_cents) as change_cents,
        sum(own_cents) as own_cents
    from money._piece_step group by month, stage, kind
),

first as (select min(month) as month from work.month),

-- what is dated before the records begin was there when they began
placed as (
    select
        greatest(steps.month, first.month) as month, stage,
        case when steps.month < first.month then 'opening'
             when kind = 'opening' and steps.month > first.month then 'imputed'
             else kind end as kind,
        case when steps.month < first.month then change_cents else cents end as cents,
        change_cents, own_cents
    from steps
    cross join first
),

sums as (
    select
        month, stage,
        sum(cents) filter (where kind = 'opening') as there_cents,
        sum(cents) filter (where kind = 'bought') as bought_cents,
        sum(cents) filter (where kind = 'imputed') as imputed_cents,
        sum(cents) filter (where kind = 'labour') as labour_cents,
        sum(cents) filter (where kind = 'machine') as machine_cents,
        sum(cents) filter (where kind = 'overhead') as overhead_cents,
        sum(cents) filter (where kind = 'returned') as returned_cents,
        sum(cents) filter (where kind = 'moved in') as moved_in_cents,
        -sum(cents) filter (where kind = 'cost of sales') as sold_cents,
        -sum(cents) filter (where kind = 'spoilage') as beyond_normal_cents,
        -sum(cents) filter (where kind = 'waste') as wasted_cents,
        -sum(cents) filter (where kind = 'shortages') as shortage_cents,
        -sum(cents) filter (where kind = 'own use') as own_use_and_gifts_cents,
        -sum(cents) filter (where kind = 'used up') as used_up_cents,
        -sum(cents) filter (where kind = 'moved out') as moved_out_cents,
        sum(change_cents) as change_cents, sum(own_cents) as own_cents
    from placed group by month, stage
),

down as (
    select month, stage, sum(written_down_cents) as written_down_cents
    from money.write_down group by month, stage
),

held as (
    select month, stage, count(*) as pieces, sum(units) as units
    from money.held group by month, stage
),

joined as (
    select
        month.month, stages.stage, stages.number, month.number as month_number,
        sums.* exclude (month, stage), down.written_down_cents, held.pieces, held.units
    from work.month
    cross join stages
    left join sums on sums.month = month.month and sums.stage = stages.stage
    left join down on down.month = month.month and down.stage = stages.stage
    left join held on held.month = month.month and held.stage = stages.stage
),

filled as (
    select month, stage, cast(coalesce(columns(* exclude (month, stage)), 0) as bigint) from joined
),

running as (
    select
        *, cast(sum(change_cents) over so_far as bigint) as closing_cents,
        cast(sum(own_cents) over so_far as bigint) as own_labour_cents
    from filled
    window so_far as (partition by stage order by month rows unbounded preceding)
)

select
    month, stage, number as stage_number,
    case when month_number = 1 then there_cents
         else closing_cents - change_cents end as opening_cents,
    bought_cents, imputed_cents, labour_cents, machine_cents, overhead_cents, returned_cents,
    moved_in_cents, sold_cents, beyond_normal_cents, wasted_cents, shortage_cents,
    own_use_and_gifts_cents, used_up_cents, moved_out_cents, closing_cents, own_labour_cents,
    written_down_cents, pieces, units
from running
