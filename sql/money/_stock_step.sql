-- One row per month and kind of movement of the materials on the shelf, cents as they change the
-- shelf.
with shortages as (select row_id from records.counts where coalesce(cause, 'count') = 'count')

select
    month_of(moved_entry.on_date) as month,
    case when other_place = 'receipt' then 'bought'
         when other_place = 'setting' then 'opening'
         when other_place = 'imputed' then 'imputed'
         when other_place = 'piece' then 'moved out'
         when other_place = 'own use' then 'own use'
         when other_place = 'period' then 'used up'
         when other_place = 'sold' and layer = 'packaging' then 'used up'
         when other_place = 'sold' then 'cost of sales'
         when shortages.row_id is not null and layer <> 'offcut' then 'shortages'
         else 'waste' end as kind,
    cast(sum(cents) as bigint) as cents
from cost.moved_entry
left join shortages on shortages.row_id = moved_entry.row_id
where moved_entry.place = 'stock'
group by all
