-- One row per line of stock bought, sent back, there at the start, or saved from a piece, in the
-- unit its item is kept in. What is in the count of the start is no line of its own. A line with a
-- negative quantity or amount is goods sent back. An item has the category of most of its lines,
-- but wood is not kept like anything else. What is bought without a quantity is one: one kit where
-- the size of a kit is known. `measured` is false where a line can't be told in that unit: a kit of
-- unknown size; it is then so many `things`. `day_turn` is its number among the lines of its day:
-- what was there at the start, then receipts by their number and their lines by item, quantity and
-- amount, then what was saved.
-- @key row_id
with lines as (
    select
        row_id, on_date, receipt, item, category, lot, species, supplier, returns, expires,
        amount_cents,
        coalesce(count, 1) as slabs,
        length_um, width_um, thickness_um, diameter_um, quantity, quantity_unit,
        coalesce(quantity < 0 or amount_cents < 0, false) as sent_back, false as opening
    from records.purchases
    where category in (
        'wood', 'resin', 'colourant', 'abrasive', 'finish', 'hardware', 'consumable', 'packaging'
    ) and row_id not in (select row_id from work.in_count)
    union all by name
    select
        row_id, on_date, item, category, lot, species, 1 as slabs, quantity, quantity_unit,
        worth_cents as amount_cents, false as sent_back, piece is null as opening, piece as saved_from
    from records.counts where worth_cents is not null
)

select
    lines.row_id, lines.on_date, lines.item,
    case when coalesce(lines.category, item.category) = 'wood' then 'wood'
         when item.category <> 'wood' then item.category
         -- an item that is mostly wood
         when lines.category in (
             'resin', 'colourant', 'abrasive', 'finish', 'hardware', 'packaging'
         ) then lines.category
         else 'consumable' end as category,
    lines.lot, lines.species, lines.supplier, lines.returns, lines.expires, lines.opening,
    lines.saved_from, lines.sent_back, lines.thickness_um, lines.diameter_um, lines.width_um,
    item.unit,
    cast(case
        when coalesce(lines.category, item.category) = 'wood' then coalesce(
            lines.slabs * volume_mm3(
                lines.length_um, lines.width_um, lines.thickness_um, lines.diameter_um
            ),
            in_base(lines.quantity, lines.quantity_unit, 'mm3', null, null)
        )
        -- none is none in any unit
        when lines.opening and lines.quantity = 0 then 0
        else coalesce(
            in_base(
                case when lines.sent_back then lines.quantity else coalesce(lines.quantity, 1000) end,
                coalesce(lines.quantity_unit, 'kit'), item.unit,
                item.density_ug_per_ul, item.kit_ul, kit_mg := item.kit_mg
            ),
            case when item.unit in ('each', 'kit') and lines.quantity_unit in ('each', 'kit')
                 then lines.quantity end
        ) end as bigint) as amount,
    case when lines.quantity_unit in ('each', 'kit') and lines.quantity <> 0
         then abs(lines.quantity) else 1000 end as things,
    coalesce(lines.category, item.category) = 'wood' or amount is not null
        or item.unit in ('each', 'kit') as measured,
    row_number() over in_day as day_turn
from lines
join work.item on item.item = lines.item
window in_day as (
    partition by lines.on_date
    order by
        not lines.opening, lines.saved_from is not null, lines.receipt, lines.supplier, lines.item,
        lines.category, lines.quantity, lines.amount_cents, lines.lot, lines.species,
        lines.length_um, lines.width_um, lines.thickness_um, lines.diameter_um, lines.slabs,
        lines.returns, lines.expires, lines.row_id
)
