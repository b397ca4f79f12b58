-- One row per lot: what was bought, what was drawn from it, and what is left, in quantity and
-- cents.
-- A wooden lot that is closed has nothing left: the rest of its cost is on the pieces cut from it.
-- @key lot_id
-- @check on_hand_cents = landed_cents - used_cents
with drawn as (
    select lot_id, sum(to_quantity - from_quantity) as quantity from work.flow group by lot_id
),

spent as (
    select paid_row_id as lot_id, sum(cents) as cents from cost._material group by paid_row_id
),

closed as (
    select paid_row_id as lot_id, sum(cents) as cents, sum(quantity) as quantity
    from cost._offcut group by paid_row_id
),

real_lots as (select * from cost._lot where not imputed),

imputed as (
    select paid_row_id as lot_id, sum(cents) as cents
    from cost._lot where imputed group by paid_row_id
)

select
    lots.lot_id, lots.lot, lots.item, lots.category, work_lot.species, work_lot.supplier,
    work_lot.form, lots.on_date as bought_on, work_lot.expires as expires_on,
    lots.quantity as bought,
    cast(coalesce(drawn.quantity, 0) + coalesce(closed.quantity, 0) as bigint) as used,
    cast(
        lots.quantity - coalesce(drawn.quantity, 0) - coalesce(closed.quantity, 0) as bigint
    ) as on_hand,
    lots.unit,
    cast(lots.cents as bigint) as landed_cents,
    -- draws on what the records lack are valued by this lot but are not its own
    cast(
        coalesce(spent.cents, 0) - coalesce(imputed.cents, 0) + coalesce(closed.cents, 0) as bigint
    ) as used_cents,
    cast(
        lots.cents - coalesce(spent.cents, 0) + coalesce(imputed.cents, 0)
            - coalesce(closed.cents, 0) as bigint
    ) as on_hand_cents
from real_lots as lots
join work.lot as work_lot on work_lot.lot_id = lots.lot_id
left join drawn on drawn.lot_id = lots.lot_id
left join spent on spent.lot_id = lots.lot_id
left join closed on closed.lot_id = lots.lot_id
left join imputed on imputed.lot_id = lots.lot_id
