-- One row per kind of stock with what it costs today: its last receipt, or the price list of
-- shop.toml if that is as new.
-- Wood goes by species. `cents` buy `quantity` of the unit. An announced price counts as soon as it
-- is written down: the next piece will be made of it. Units: NIST SP 811, appendix B.8 (exact by
-- definition; a board foot is 144 cubic inches).
-- @key flow
-- @check quantity > 0
with lots as (
    select
        lot.lot_id, work_lot.flow, lot.category, lot.bought_on, lot.landed_cents, lot.bought,
        lot.unit, work_lot.day_turn
    from cost.lot
    join work.lot as work_lot on work_lot.lot_id = lot.lot_id
    where lot.landed_cents > 0 and lot.bought > 0
),

bought as (
    select
        flow, category, unit, bought_on as from_date, lot_id as row_id, landed_cents as cents,
        bought as quantity
    from lots
    qualify row_number() over (partition by flow order by bought_on desc, day_turn desc, lot_id desc) = 1
),

units (listed_unit, base, size) as (
    values ('g', 'mg', 1000.0), ('kg', 'mg', 1000000.0), ('oz', 'mg', 28349.523125),
    ('lb', 'mg', 453592.37),
        ('ml', 'ul', 1000.0), ('l', 'ul', 1000000.0), ('fl oz', 'ul', 29573.5295625),
        ('gal', 'ul', 3785411.784), ('cm3', 'mm3', 1000.0), ('m3', 'mm3', 1000000000.0),
        ('bf', 'mm3', 2359737.216), ('m', 'um', 1000000.0), ('ft', 'um', 304800.0),
        ('m2', 'mm2', 1000000.0), ('each', 'each', 1000.0), ('kit', 'kit', 1000.0)
),

listed as (
    select price_list.*, units.base, whole(price_list.quantity * units.size) as amount
    from settings.price_list
    join units on units.listed_unit = price_list.unit
    qualify row_number() over (
        partition by price_list.name
        order by price_list.from_date desc, price_list.position desc, price_list.row_id desc
    ) = 1
),

in_force as (
    select
        coalesce(bought.flow, listed.name) as flow,
        coalesce(item.category, bought.category) as category,
        coalesce(bought.unit, item.unit, listed.base) as unit, listed.from_date, listed.row_id,
        listed.price_cents as cents,
        in_base(
            listed.amount, listed.base, coalesce(bought.unit, item.unit, listed.base),
            item.density_ug_per_ul, item.kit_ul,
            kit_mg := item.kit_mg
        ) as quantity
    from listed
    left join work.item as item on item.item = listed.name
    left join bought on bought.flow = listed.name or bought.flow = 'wood/' || listed.name
    where listed.price_cents > 0
),

known as (
    select *, 1 as turn from bought
    union all select *, 2 as turn from in_force where quantity > 0
)

select flow, category, unit, from_date, row_id, cents, quantity
from known
qualify row_number() over (partition by flow order by from_date desc, turn desc) = 1
