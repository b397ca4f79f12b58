-- One row per month and kind of movement of the materials on the shelf, cents as they change the
-- shelf.
with moved as (
    select on_date, row_id, from_place as place, layer, cents
    from cost.trace where to_place = 'stock'
    union all by name
    select on_date, row_id, to_place as place, layer, -cents as cents
    from cost.trace where from_place = 'stock'
),

shortages as (select row_id from records.counts where coalesce(cause, 'count') = 'count')

select
    month_of(moved.on_date) as month,
    case when place = 'receipt' then 'bought'
         when place = 'setting' then 'opening'
         when place = 'imputed' then 'imputed'
         when place = 'piece' then 'moved out'
         when place = 'own use' then 'own use'
         when place = 'period' then 'used up'
         when place = 'sold' and layer = 'packaging' then 'used up'
         when place = 'sold' then 'cost of sales'
         when shortages.row_id is not null and layer <> 'offcut' then 'shortages'
         else 'waste' end as kind,
    cast(sum(cents) as bigint) as cents
from moved
left join shortages on shortages.row_id = moved.row_id
group by all
