-- One row per line of a closed month that would be another today: it counts in the first open month
-- after it.
-- Lines are compared by what they are about, since row ids change with every refresh; `row_ids` are
-- the records that stand behind the line today, none where its records are gone.
with closed as (
    select
        month, name as line, layer, on_date, piece, item, operation, own_labour,
        sum(amount) as cents
    from intake.closed where kind = 'line' group by all
),

months as (select distinct month from intake.closed),

now as (
    select
        line.month, line.line, line.layer, line.on_date, line.piece, line.item, line.operation,
        line.own_labour, sum(cents) as cents, list_sort(list(distinct line.row_id)) as row_ids
    from money.line
    join months on months.month = line.month
    group by all
),

compared as (
    select
        coalesce(now.month, closed.month) as closed_month, coalesce(now.line, closed.line) as line,
        coalesce(now.layer, closed.layer) as layer,
        coalesce(now.on_date, closed.on_date) as on_date,
        coalesce(now.piece, closed.piece) as piece, coalesce(now.item, closed.item) as item,
        coalesce(now.operation, closed.operation) as operation,
        coalesce(now.own_labour, closed.own_labour) as own_labour,
        coalesce(closed.cents, 0) as closed_cents, coalesce(now.cents, 0) as now_cents,
        coalesce(now.row_ids, []) as row_ids
    from now
    full join closed
        on closed.month = now.month and closed.line = now.line
        and closed.own_labour = now.own_labour
        and closed.layer is not distinct from now.layer
        and closed.on_date is not distinct from now.on_date
        and closed.piece is not distinct from now.piece
        and closed.item is not distinct from now.item
        and closed.operation is not distinct from now.operation
),

open as (select month from work.month anti join months on months.month = work.month.month)

select
    compared.closed_month, open.month, line, layer, on_date, piece, item, operation, own_labour,
    cast(closed_cents as bigint) as closed_cents, cast(now_cents as bigint) as now_cents,
    cast(now_cents - closed_cents as bigint) as cents, row_ids
from compared
asof left join open on open.month > compared.closed_month
where now_cents <> closed_cents
