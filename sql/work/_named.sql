-- One row per draw that names a lot, as far as the lot reaches; from and to are positions in it.
-- @key use_id
with laid as (
    select
        use.use_id, use.lot_id, use.quantity, lot.quantity as held,
        sum(use.quantity) over (partition by use.lot_id order by use.on_date, use.day_turn) as to_q
    from work.use
    join work.lot on lot.lot_id = use.lot_id
)

select
    use_id, lot_id,
    cast(least(to_q - quantity, held) as bigint) as from_quantity,
    cast(least(to_q, held) as bigint) as to_quantity
from laid where to_q - quantity < held
