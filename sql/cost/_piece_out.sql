-- One row per cost of a piece and event at which units of it left or came back.
-- Units leave by cumulative rounding over the piece's running cost, so at any day the units gone
-- carry exactly their share of all that had gone in. Cost that arises after a unit left follows it
-- on its own day. Where all units leave at once, each cost leaves whole, and nothing is summed.
-- Scrap that a run takes over is for the units that were still good, and what was saved from
-- scrapped units comes off those alone.
-- @view
with exits as (
    select
        *, units_out - units_out_before as gone, units_out = units and units_out_before = 0 as whole
    from work.exit
),

parted as (select distinct piece from exits where not whole),

inflows as (
    select
        inflow.*, parted.piece is not null as parted,
        case when inflow.layer = 'spoilage' then 'scrap'
             when saved.lot_id is not null then 'saved'
             else 'cost' end as what
    from cost._piece_in as inflow
    left join parted on parted.piece = inflow.piece
    -- what was saved comes off; the same lot may be used on the piece again
    left join cost._salvage as saved on saved.lot_id = inflow.row_id and inflow.cents < 0
),

in_parts as (
    select *, sum(cents) over so_far as running
    from inflows
    where parted and what = 'cost'
    window so_far as (
        partition by piece
        order by
            on_date, layer, origin, operation, item, lot, cents, rework, assumed, estimated, quantity,
            row_id, paid_row_id
        rows unbounded preceding
    )
),

taken_over as (
    select *, row_number() over () as inflow_id, sum(cents) over that_day as running
    from inflows
    where parted and what = 'scrap'
    window that_day as (
        partition by piece, on_date
        order by
            layer, origin, operation, item, lot, cents, rework, assumed, estimated, quantity,
            row_id, paid_row_id
        rows unbounded preceding
    )
),

-- units that were scrapped by then take none of it, unless no other was left
scrap_met as (
    select
        taken_over.*, exits.on_date as left_on, exits.row_id as exit_id, exits.kind, exits.place,
        exits.assumed as exit_assumed, exits.number, exits.gone, exits.units,
        exits.place = 'pool' and exits.on_date <= taken_over.on_date as spoiled,
        sum(case when spoiled then exits.gone else 0 end) over (
            partition by taken_over.inflow_id
        ) as spoiled_units
    from taken_over
    join exits on exits.piece = taken_over.piece
),

scrap_parts as (
    select
        *,
        case when spoiled_units >= units then units else units - spoiled_units end as all_units,
        sum(gone) over (partition by inflow_id order by number rows unbounded preceding) as to_units
    from scrap_met where spoiled_units >= units or not spoiled
),

moved as (
    select
        inflows.*, exits.on_date as left_on, exits.row_id as exit_id, exits.kind, exits.place,
        exits.assumed as exit_assumed, inflows.cents as out_cents
    from inflows
    join exits on exits.piece = inflows.piece and exits.whole
    where what = 'cost' or not parted
    union all by name
    select
        inflows.*, exits.on_date as left_on, exits.row_id as exit_id, exits.kind, exits.place,
        exits.assumed as exit_assumed,
        share(running, units_out_before, units_out, units)
            - share(running - cents, units_out_before, units_out, units) as out_cents
    from in_parts as inflows
    join exits on exits.piece = inflows.piece and not exits.whole
    union all by name
    select
        *,
        share(running, to_units - gone, to_units, all_units)
            - share(running - cents, to_units - gone, to_units, all_units) as out_cents
    from scrap_parts
    union all by name
    select
        inflows.*, exits.on_date as left_on, exits.row_id as exit_id, exits.kind, exits.place,
        exits.assumed as exit_assumed, -salvage_out.cents as out_cents
    from inflows
    join cost._salvage_out as salvage_out on salvage_out.lot_id = inflows.row_id
    join exits on exits.piece = inflows.piece and exits.number = salvage_out.number
    where parted and what = 'saved'
)

-- scrap that a piece took over while it was good is lost with it: it is no cost of further good
-- pieces
select
    greatest(on_date, left_on) as on_date, exit_id as row_id, paid_row_id,
    case when place = 'pool' and layer = 'spoilage' then 'waste' else place end as place,
    case when kind = 'gift' then 'selling' else layer end as layer,
    origin, operation, piece, lot,
    case when place = 'pool' and layer <> 'spoilage' then 'spoilage' else item end as item,
    cast(out_cents as bigint) as cents, rework, assumed or exit_assumed as assumed, estimated
from moved
