-- One row per month: what is tied up at its end, in all and by what it waits for.
-- Pieces that wait for a buyer are finished, or out on consignment.
-- @key month
-- @check closing_cents = materials_cents + half_made_cents + waiting_cents
select
    month, cast(sum(closing_cents) as bigint) as closing_cents,
    cast(coalesce(sum(closing_cents) filter (where stage = 'materials'), 0) as bigint) as materials_cents,
    cast(coalesce(sum(closing_cents) filter (where stage = 'in progress'), 0) as bigint) as half_made_cents,
    cast(coalesce(sum(closing_cents) filter (where stage in ('finished', 'consigned')), 0) as bigint)
        as waiting_cents,
    cast(sum(written_down_cents) as bigint) as written_down_cents
from money.stock_month
group by month
