-- One row per piece, layer and operation: its cents, of those the ones of rework, of own labour,
-- inferred and estimated, and the seconds of labour, all and the owners' own.
-- @key piece, layer, operation
with entries as (
    -- first by record: to count each of them once is slow otherwise
    select
        piece, layer, coalesce(operation, '') as operation, row_id,
        sum(cents) as cents,
        sum(cents) filter (where rework) as rework_cents,
        sum(cents) filter (where origin = 'own labour') as own_labour_cents,
        sum(cents) filter (where assumed and not estimated) as assumed_cents,
        sum(cents) filter (where estimated) as estimated_cents,
        sum(quantity) filter (where layer = 'labour') as seconds,
        sum(quantity) filter (where layer = 'labour' and origin = 'own labour') as own_seconds
    from cost._piece_in group by piece, layer, coalesce(operation, ''), row_id
)

select
    piece, layer, operation,
    cast(sum(cents) as bigint) as cents,
    cast(coalesce(sum(rework_cents), 0) as bigint) as rework_cents,
    cast(coalesce(sum(own_labour_cents), 0) as bigint) as own_labour_cents,
    cast(coalesce(sum(assumed_cents), 0) as bigint) as assumed_cents,
    cast(coalesce(sum(estimated_cents), 0) as bigint) as estimated_cents,
    cast(coalesce(sum(seconds), 0) as bigint) as seconds,
    cast(coalesce(sum(own_seconds), 0) as bigint) as own_seconds,
    count(*) as records
from entries group by piece, layer, operation
