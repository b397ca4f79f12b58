-- One row per month, record, piece and line of the result that sales and the trace give, with its
-- place and layer: the sum of the lines of money._plain_line; of materials one an item, of labour
-- one a rate that paid for it.
with ends as (
    select
        month_of(moved.on_date) as month, moved.row_id, moved.paid_row_id, moved.layer, moved.origin,
        moved.piece, moved.item, case when ends.coming then to_place else from_place end as place,
        case when ends.coming then -cents else cents end as cents
    from cost.moved
    cross join (select unnest([true, false]) as coming) as ends
    where case when ends.coming then to_place else from_place end in ('sold', 'period', 'waste')
),

lines as (
    select
        month, case when units <= 0 then 'refunds' else 'revenue' end as line, '' as place,
        '' as layer, row_id, piece, false as own_labour, revenue_cents as cents
    from money._sale where revenue_cents <> 0
    union all by name
    select
        month, result_line(place, cost_group) as line, place, ends.layer, row_id, piece,
        case when cost_group = 'labour' then paid_row_id end as paid_row_id,
        case when cost_group not in ('labour', 'machine', 'overhead') then item end as item,
        origin = 'own labour' as own_labour, cents
    from ends
    left join settings.layer as known on known.layer = ends.layer
)

select
    month, line, place, layer, row_id, paid_row_id, piece, item, own_labour,
    cast(sum(cents) as bigint) as cents
from lines group by month, line, place, layer, row_id, paid_row_id, piece, item, own_labour
