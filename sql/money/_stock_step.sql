-- One row per month and kind of movement of the materials on the shelf, cents as they change the shelf.
with moved as (
    select on_date, row_id, from_place as place, layer, cents from cost.trace where to_place = 'stock'
    union all
    select on_date, row_id, to_place, layer, -cents from cost.trace where from_place = 'stock'
),

shortages as (select row_id from records.counts where coalesce(cause, 'count') = 'count')

select
    month_of(moved.on_date) as month,
    case place when 'receipt' then 'bought'
         when 'setting' then 'opening'
         when 'imputed' then 'imputed'
         when 'piece' then 'moved out'
         when 'own use' then 'own use'
         when 'period' then 'used up'
         when 'sold' then case when layer = 'packaging' then 'used up' else 'cost of sales' end
         else case when shortages.row_id is not null and layer <> 'offcut' then 'shortages' else 'waste' end end as kind,
    cast(sum(cents) as bigint) as cents
from moved
left join shortages on shortages.row_id = moved.row_id
group by all
