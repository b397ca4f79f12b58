-- One row per lot with something left, those that only a count knows of included (their ids are
-- negative, as in `work.flow`).
-- Of a slab that went back whole a cubic millimetre is left, so that its lot can be divided by:
-- that is nothing.
-- @key lot_id
with found as (
    select -short_id(row_id, flow) as lot_id, row_id, flow, on_date, beyond as quantity
    from work.found where beyond > 0
),

drawn as (
    select lot_id, sum(to_quantity - from_quantity) as quantity
    from work.flow where lot_id < 0 group by lot_id
),

worth as (
    select row_id, any_value(paid_row_id) as paid_row_id, sum(cents) as cents
    from cost.movement where from_place = 'imputed' and to_place = 'stock' group by row_id
),

found_left as (
    select
        found.*, item.item, item.category, item.unit, coalesce(drawn.quantity, 0) as drawn,
        worth.paid_row_id,
        coalesce(
            worth.cents - cut(worth.cents, coalesce(drawn.quantity, 0), found.quantity), 0
        ) as cents
    from found
    join work.item on item.item = item_of(found.flow)
    left join drawn on drawn.lot_id = found.lot_id
    left join worth on worth.row_id = found.row_id
    where found.quantity > coalesce(drawn.quantity, 0)
),

-- a lot that gave what a count found its price holds those cents too in `cost.lot`
lent as (select paid_row_id as lot_id, sum(cents) as cents from found_left group by paid_row_id),

shelf as (
    select
        lot.lot_id, lot.lot, lot.item, lot.category, lots.flow, lot.species, lot.supplier, lot.form,
        lot.bought_on, lot.expires_on, lot.bought, lot.used, lot.on_hand, lot.unit,
        lot.on_hand_cents - coalesce(lent.cents, 0) as on_hand_cents, false as found, lots.day_turn
    from cost.lot
    join work.lot as lots on lots.lot_id = lot.lot_id
    left join lent on lent.lot_id = lot.lot_id
    where lot.on_hand > 0 and (lot.category <> 'wood' or lot.bought > 1 or lot.landed_cents > 0)
    union all by name
    select
        lot_id, item, category, flow, on_date as bought_on, quantity as bought, drawn as used,
        quantity - drawn as on_hand, unit, cents as on_hand_cents, true as found
    from found_left
),

pooled as (
    select lots.flow, sum(lot.on_hand_cents) as cents
    from cost.lot
    join work.lot as lots on lots.lot_id = lot.lot_id
    where lot.category <> 'wood'
    group by lots.flow
),

running as (
    select
        shelf.*,
        coalesce(shop.cost_flow = 'average' and pooled.flow is not null, false) as averaged,
        pooled.cents as all_cents, sum(shelf.on_hand) over so_far as to_on_hand,
        sum(shelf.on_hand) over (partition by shelf.flow) as all_on_hand
    from shelf
    left join settings.shop on true
    left join pooled on pooled.flow = shelf.flow and shelf.category <> 'wood'
    window so_far as (
        partition by shelf.flow order by shelf.bought_on, shelf.found, shelf.day_turn, shelf.lot_id
        rows unbounded preceding
    )
)

select
    * exclude (averaged, all_cents, to_on_hand, all_on_hand, on_hand_cents, found, day_turn),
    -- by the moving average what is left of an item costs the same in every lot of it
    cast(case when averaged then share(all_cents, to_on_hand - on_hand, to_on_hand, all_on_hand)
              else on_hand_cents end as bigint) as on_hand_cents,
    found
from running
