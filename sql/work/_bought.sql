-- One row per line of stock bought, sent back, there at the start, or saved from a piece, in the unit its item is kept in.
-- A line with a negative quantity or amount is goods sent back.
-- @key row_id
with lines as (
    select
        row_id, on_date, item, category, lot, species, supplier, returns, expires, coalesce(count, 1) as slabs,
        length_um, width_um, thickness_um, diameter_um, quantity, quantity_unit, coalesce(quantity < 0 or amount_cents < 0, false) as sent_back, false as opening,
        cast(null as varchar) as saved_from
    from records.purchases
    where category in ('wood', 'resin', 'colourant', 'abrasive', 'finish', 'hardware', 'consumable', 'packaging')
    union all
    select
        row_id, on_date, item, category, lot, species, null, null, null, 1, null, null, null, null, quantity, quantity_unit, false, piece is null, piece
    from records.counts where worth_cents is not null
)

select
    lines.row_id, lines.on_date, lines.item, coalesce(lines.category, item.category) as category, lines.lot, lines.species,
    lines.supplier, lines.returns, lines.expires, lines.opening, lines.saved_from,
    lines.sent_back,
    lines.thickness_um, lines.diameter_um, lines.width_um,
    item.unit,
    cast(case when coalesce(lines.category, item.category) = 'wood'
              then coalesce(volume_mm3(lines.length_um, lines.width_um, lines.thickness_um, lines.diameter_um) * lines.slabs,
                            in_base(lines.quantity, lines.quantity_unit, 'mm3', null, null))
              else in_base(lines.quantity, lines.quantity_unit, item.unit, item.density_ug_per_ul, item.kit_ul) end as bigint) as amount
from lines
join work.item on item.item = lines.item
