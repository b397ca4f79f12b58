-- One row per month, record, piece and line of the result that sales and the trace give, with its
-- place and layer: the sum of the lines of money._plain_line.
with ends as (
    select
        month_of(on_date) as month, row_id, to_place as place, layer, origin, piece, -cents as cents
    from cost.moved where to_place in ('sold', 'period', 'waste')
    union all by name
    select month_of(on_date) as month, row_id, from_place as place, layer, origin, piece, cents
    from cost.moved where from_place in ('sold', 'period', 'waste')
),

lines as (
    select
        month, case when units <= 0 then 'refunds' else 'revenue' end as line, '' as place,
        '' as layer, row_id, piece, false as own_labour, revenue_cents as cents
    from money._sale where revenue_cents <> 0
    union all by name
    select
        month, result_line(place, cost_group) as line, place, ends.layer, row_id, piece,
        origin = 'own labour' as own_labour, cents
    from ends
    left join settings.layer as known on known.layer = ends.layer
)

select
    month, line, place, layer, row_id, piece, own_labour, cast(sum(cents) as bigint) as cents
from lines group by month, line, place, layer, row_id, piece, own_labour
