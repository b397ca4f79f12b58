-- One row per piece or run: what it is, and what went into it by layer, also after it was sold.
-- Shares say how much of the cost rests on records, on links that were inferred, and on quantities
-- that were inferred; how much rests on records is not told while something in it has no cost.
-- @key piece
-- @check made_cents = wood_cents + offcut_cents + resin_cents + resin_waste_cents + colourant_cents
--     + finish_cents + abrasive_cents + hardware_cents + consumable_cents + labour_cents
--     + machine_cents + overhead_cents + spoilage_cents + packaging_cents
with layers as (
    pivot (select piece, replace(layer, ' ', '_') || '_cents' as layer, cents from cost._piece_sum)
    on layer in (
        'wood_cents', 'offcut_cents', 'resin_cents', 'resin_waste_cents', 'colourant_cents',
        'finish_cents', 'abrasive_cents', 'hardware_cents', 'consumable_cents', 'labour_cents',
        'machine_cents', 'overhead_cents', 'spoilage_cents', 'packaging_cents'
    )
    using sum(cents)
    group by piece
),

costs as (
    select
        piece,
        sum(cents) as made_cents,
        count(*) filter (
            where layer in (
                'wood', 'offcut', 'resin', 'colourant', 'finish', 'hardware', 'consumable'
            )
        ) as materials,
        sum(rework_cents) as rework_cents,
        sum(own_labour_cents) as own_labour_cents,
        sum(own_labour_cents) filter (where layer = 'labour') as own_bench_cents,
        sum(own_seconds) as own_bench_seconds,
        sum(assumed_cents) as assumed_cents,
        sum(estimated_cents) as estimated_cents
    from cost._piece_sum group by piece
),

worked as (
    -- what a machine does alone is its own cost, and nobody's time
    select
        piece,
        sum(seconds) filter (where attended) as seconds,
        sum(seconds) filter (where attended and rework) as rework_seconds,
        sum(seconds) filter (where not attended) as alone_seconds
    from (
        select shares.piece, shares.seconds, shares.rework, hours.attended
        from work.hours_piece as shares
        join work.hours on hours.row_id = shares.row_id
        where not shares.after_sale
        union all by name
        select piece, seconds, false as rework, true as attended from work.hours_missing
    )
    group by piece
),

may_lack as (select piece, sum(cents) as cents from cost._may_lack group by piece),

scrapped as (
    select piece, sum(units_out - units_out_before) as units
    from work.exit where place = 'pool' group by piece
),

mended as (
    select piece, sum(lost_cents) as cents from cost._rework where lost_cents <> 0 group by piece
),

saved as (select piece, sum(cents) as cents from cost._salvage group by piece),

without_cost as (select piece, count(*) as things from cost.without_cost group by piece),

-- scrap that a run took over is for the units that were good then
taken_over as (
    select piece, sum(cut(cents, 1, units)) as unit_cents
    from (
        select
            spoilage.piece, any_value(spoilage.cents) as cents,
            piece.units - coalesce(sum(exits.units_out - exits.units_out_before), 0) as units
        from (
            select piece, on_date, sum(cents) as cents
            from cost._spoilage where place = 'piece' group by piece, on_date
        ) as spoilage
        join work.piece on piece.piece = spoilage.piece
        left join work.exit as exits
            on exits.piece = spoilage.piece and exits.place = 'pool'
            and exits.on_date <= spoilage.on_date
        group by spoilage.piece, spoilage.on_date, piece.units
    )
    where units > 0
    group by piece
)

select
    piece.piece, piece.product, piece.species, piece.finish, piece.units as quantity, piece.status,
    piece.started_on as started, piece.finished_on as finished, piece.order_no,
    coalesce(worked.seconds, 0) / 3600 as hours,
    coalesce(worked.rework_seconds, 0) / 3600 as rework_hours,
    coalesce(worked.alone_seconds, 0) / 3600 as alone_hours,
    coalesce(columns(layers.* exclude (piece)), 0)::bigint,
    coalesce(made_cents, 0)::bigint as made_cents,
    cast(case
        when scrapped.units > 0 and scrapped.units < piece.units
        then coalesce(taken_over.unit_cents, 0) + cut(
            coalesce(made_cents, 0) - coalesce(layers.spoilage_cents, 0) + coalesce(saved.cents, 0),
            1, piece.units
        )
        else cut(coalesce(made_cents, 0), 1, piece.units) end as bigint) as unit_cents,
    coalesce(rework_cents, 0)::bigint as rework_cents,
    coalesce(mended.cents, 0)::bigint as rework_lost_cents,
    coalesce(own_labour_cents, 0)::bigint as own_labour_cents,
    coalesce(own_bench_cents, 0)::bigint as own_bench_cents,
    coalesce(own_bench_seconds, 0)::bigint as own_bench_seconds,
    coalesce(without_cost.things, 0)::bigint as without_cost,
    coalesce(costs.materials, 0) = 0 and not piece.opening as without_material,
    case when made_cents > 0 and without_cost.things is null
         then (made_cents - assumed_cents - estimated_cents)
             / (made_cents + coalesce(may_lack.cents, 0)) end as logged_share,
    case when made_cents > 0
         then assumed_cents / (made_cents + coalesce(may_lack.cents, 0)) end as assumed_share,
    case when made_cents > 0
         then (estimated_cents + coalesce(may_lack.cents, 0))
             / (made_cents + coalesce(may_lack.cents, 0)) end as estimated_share
from work.piece
left join costs on costs.piece = piece.piece
left join layers on layers.piece = piece.piece
left join scrapped on scrapped.piece = piece.piece
left join mended on mended.piece = piece.piece
left join saved on saved.piece = piece.piece
left join taken_over on taken_over.piece = piece.piece
left join worked on worked.piece = piece.piece
left join may_lack on may_lack.piece = piece.piece
left join without_cost on without_cost.piece = piece.piece
