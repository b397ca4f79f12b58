-- One row per cost of a piece and event at which units of it left or came back.
-- Units leave by cumulative rounding over the piece's running cost, so at any day the units gone carry exactly their
-- share of all that had gone in. Cost that arises after a unit left follows it on its own day. Where all units leave at
-- once, each cost leaves whole, and nothing is summed.
-- @view
with exits as (select *, units_out = units and units_out_before = 0 as whole from work.exit),

in_parts as (
    select
        *, sum(cents) over (partition by piece order by on_date, row_id, paid_row_id, layer, origin, item, operation, lot, cents rows unbounded preceding) as running
    from cost._piece_in
    where piece in (select piece from exits where not whole)
),

moved as (
    select inflows.*, exits.on_date as left_on, exits.row_id as exit_id, exits.kind, exits.place, exits.assumed as exit_assumed, inflows.cents as out_cents
    from cost._piece_in as inflows
    join exits on exits.piece = inflows.piece and exits.whole
    union all
    select
        inflows.* exclude (running), exits.on_date, exits.row_id, exits.kind, exits.place, exits.assumed,
        cut(running, units_out, units) - cut(running - cents, units_out, units)
            - cut(running, units_out_before, units) + cut(running - cents, units_out_before, units)
    from in_parts as inflows
    join exits on exits.piece = inflows.piece and not exits.whole
)

select
    greatest(on_date, left_on) as on_date, exit_id as row_id, paid_row_id, kind, place as to_place, layer, origin, operation, piece, lot, item,
    cast(out_cents as bigint) as cents, rework, assumed or exit_assumed as assumed, estimated
from moved
