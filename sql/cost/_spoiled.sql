-- One row per scrapped or test piece, month and origin: its cost in the pool of spoilage at the
-- month's end.
-- What arises for it in later months follows in their own. What was saved from it comes off its
-- other cost, own labour last; `gross_cents` is that cost before.
with exits as (select * from work.exit where place = 'pool'),

inflows as (
    select *, sum(cents) over so_far as running
    from cost._piece_base
    where
        piece in (select piece from exits)
        and not (cents < 0 and row_id in (select lot_id from cost._salvage))
    window so_far as (
        partition by piece
        order by
            on_date, layer, origin, operation, item, lot, cents, rework, assumed, estimated, quantity,
            row_id, paid_row_id
        rows unbounded preceding
    )
),

moved as (
    select
        exits.piece, exits.kind, exits.number, exits.row_id,
        month_of(greatest(inflows.on_date, exits.on_date)) as month,
        inflows.origin,
        share(running, units_out_before, units_out, units)
            - share(running - cents, units_out_before, units_out, units) as gross_cents,
        gross_cents as cents
    from inflows
    join exits on exits.piece = inflows.piece
    union all by name
    select
        exits.piece, exits.kind, exits.number, exits.row_id,
        month_of(greatest(saved.on_date, exits.on_date)) as month,
        saved.category as origin, -salvage_out.cents as cents, 0 as gross_cents
    from cost._salvage_out as salvage_out
    join cost._salvage as saved on saved.lot_id = salvage_out.lot_id
    join exits on exits.piece = salvage_out.piece and exits.number = salvage_out.number
),

summed as (
    select
        piece, kind, month, origin, min_by(row_id, number) as row_id, sum(cents) as cents,
        sum(gross_cents) as gross_cents
    from moved group by piece, kind, month, origin
),

running as (
    select *, sum(cents) over so_far as to_cents
    from summed
    window so_far as (
        partition by piece, kind, month
        order by cents >= 0, origin = 'own labour', origin rows unbounded preceding
    )
)

select
    piece, kind, month, origin, row_id,
    cast(greatest(to_cents, 0) - greatest(to_cents - cents, 0) as bigint) as cents,
    cast(gross_cents as bigint) as gross_cents
from running
