-- One row per cost of a piece and event at which units of it left or came back.
-- Units leave by cumulative rounding over the piece's running cost, so at any day the units gone carry exactly their
-- share of all that had gone in. Cost that arises after a unit left follows it on its own day.
with inflows as (
    select
        *, sum(cents) over (partition by piece order by on_date, row_id, paid_row_id, layer, origin, item, operation, lot, cents rows unbounded preceding) as running
    from cost._piece_in
)

select
    greatest(inflows.on_date, exits.on_date) as on_date, exits.row_id, inflows.paid_row_id, exits.kind, exits.place as to_place,
    inflows.layer, inflows.origin, inflows.operation, inflows.piece, inflows.lot, inflows.item,
    cut(running, units_out, units) - cut(running - cents, units_out, units)
        - cut(running, units_out_before, units) + cut(running - cents, units_out_before, units) as cents,
    inflows.rework, inflows.assumed or exits.assumed as assumed, inflows.estimated
from inflows
join work.exit as exits on exits.piece = inflows.piece
