-- One row per lot saved from a piece and event at which units of the piece were scrapped by the end
-- of that month: how much it takes off what those units cost. Units of the piece that are good, or
-- were sold, gain nothing by it.
-- @key lot_id, number
with scrapped as (
    select
        saved.lot_id, saved.piece, saved.cents, exits.number,
        exits.units_out - exits.units_out_before as units
    from cost._salvage as saved
    join work.exit as exits
        on exits.piece = saved.piece and exits.place = 'pool'
        and exits.on_date <= last_day(saved.on_date)
    where saved.cents > 0
),

running as (
    select
        *,
        sum(units) over (partition by lot_id order by number rows unbounded preceding) as to_units,
        sum(units) over (partition by lot_id) as all_units
    from scrapped
)

select
    lot_id, number, piece,
    cast(share(cents, to_units - units, to_units, all_units) as bigint) as cents
from running
