-- One row per lot saved from a piece: what it is worth leaves what was scrapped of the piece, or a
-- test, for the shelf. It is worth nothing here if nothing of the piece was scrapped by the end of
-- that month: its cost was in the piece then, and what becomes of the piece later changes no month
-- that is over.
-- @key lot_id
with saved as (
    select
        lot.lot_id, lot.on_date, lot.lot, lot.item, lot.category, lot.quantity, lot.unit,
        lot.saved_from as piece, counts.worth_cents
    from work.lot
    join records.counts on counts.row_id = lot.lot_id
    where lot.saved_from is not null
),

gone as (
    select saved.lot_id, sum(exits.units_out - exits.units_out_before) > 0 as scrapped
    from saved
    join work.exit as exits
        on exits.piece = saved.piece and exits.place = 'pool'
        and exits.on_date <= last_day(saved.on_date)
    group by saved.lot_id
)

select
    saved.* exclude (worth_cents),
    case when gone.scrapped then saved.worth_cents else 0 end as cents
from saved
left join gone on gone.lot_id = saved.lot_id
