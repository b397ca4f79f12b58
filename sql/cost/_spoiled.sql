-- One row per scrapped or test piece, month and origin: its cost in the pool of spoilage at the month's end.
-- What arises for it in later months follows in their own.
with exits as (select * from work.exit where place = 'pool'),

inflows as (
    select
        *, sum(cents) over (partition by piece order by on_date, row_id, paid_row_id, layer, origin, item, operation, lot, cents rows unbounded preceding) as running
    from cost._piece_base
),

moved as (
    select
        exits.piece, exits.kind, exits.row_id, month_of(greatest(inflows.on_date, exits.on_date)) as month, inflows.origin,
        cut(running, units_out, units) - cut(running - cents, units_out, units)
            - cut(running, units_out_before, units) + cut(running - cents, units_out_before, units) as cents
    from inflows
    join exits on exits.piece = inflows.piece
)

select piece, kind, month, origin, min(row_id) as row_id, cast(sum(cents) as bigint) as cents
from moved group by piece, kind, month, origin
