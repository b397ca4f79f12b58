-- One row per part of a lot that a draw took, with its day and its cents by the lot's own cost.
-- `day_turn` is the lot's.
-- A lot's cents go by position, so that later draws never change earlier ones; what blanks of a
-- slab take goes by their value where all of them have one.
with flow as (
    select
        flow.*, lot.paid_row_id, lot.on_date as bought_on, lot.day_turn, lot.item, lot.lot, lot.unit,
        lot.imputed, coalesce(lot.uncounted, false) as uncounted,
        coalesce(
            by_value.cents,
            share(lot.cents, flow.from_quantity, flow.to_quantity, lot.quantity)
        ) as cents
    from work.flow
    join cost._lot as lot on lot.lot_id = flow.lot_id
    left join cost._blank_value as by_value
        on by_value.lot_id = flow.lot_id and by_value.use_id = flow.use_id
)

select
    flow.flow, flow.lot_id, flow.use_id, flow.reserved,
    coalesce(use.row_id, counted.row_id, settled.row_id) as row_id,
    -- what is spread over months can't be used before it was bought
    coalesce(use.on_date, counted.on_date, greatest(settled.on_date, flow.bought_on)) as on_date,
    flow.bought_on, flow.day_turn, flow.from_quantity, flow.to_quantity - flow.from_quantity as quantity,
    cast(flow.cents as bigint) as cents,
    flow.paid_row_id, flow.item, flow.lot, flow.unit, flow.imputed, flow.uncounted
from flow
left join work.use on use.use_id = flow.use_id
left join work.counted as counted
    on counted.flow = flow.flow and counted.row_id = row_of_draw(flow.use_id)
    and flow.use_id in (
        short_id(counted.row_id, counted.flow), again_id(counted.row_id, counted.flow)
    )
left join work.settled as settled
    on settled.use_id = flow.use_id and (settled.lot_id is null or settled.lot_id = flow.lot_id)
