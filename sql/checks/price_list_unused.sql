-- A price of the price list is for a unit that can't be turned into the one the item is kept in, or
-- for an item nobody uses.
-- @severity warning
select price_list.name, price_list.unit, price_list.from_date, price_list.row_id
from settings.price_list
left join price.today on today.flow in (price_list.name, 'wood/' || price_list.name)
window
    named as (partition by price_list.name),
    newest as (
        partition by price_list.name
        order by price_list.from_date desc, price_list.position desc, price_list.row_id desc
    )
qualify row_number() over newest = 1
    and coalesce(max(today.from_date) over named < price_list.from_date, true)
