-- One row per record and line of its month's result that sales and the trace give, cents as they
-- change the result.
-- `own_labour` marks cents that only count with own pay as a cost: the books leave them out.
-- @view
with ends as (
    -- the trace is cut together anew each time that it stands here, so it stands here once
    select
        month_of(on_date) as month, on_date, row_id, paid_row_id, layer, origin, operation, piece, item,
        case when ends.coming then to_place else from_place end as place,
        case when ends.coming then -cents else cents end as cents
    from cost.trace
    cross join (select unnest([true, false]) as coming) as ends
    where case when ends.coming then to_place else from_place end in ('sold', 'period', 'waste')
)

select
    month, on_date, case when units <= 0 then 'refunds' else 'revenue' end as line, '' as place,
    '' as layer,
    case when units = 0 then 'allowance' else channel end as operation, row_id,
    row_id as paid_row_id, piece, product as item,
    false as own_labour,
    revenue_cents as cents
from money._sale where revenue_cents <> 0
union all by name
select
    month, on_date, result_line(place, cost_group) as line,
    place, ends.layer, operation, row_id, paid_row_id, piece, item,
    origin = 'own labour' as own_labour, cents
from ends
left join settings.layer as known on known.layer = ends.layer
