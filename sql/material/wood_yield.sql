-- One row per wooden lot: how much of it ended in finished pieces, and what a finished cubic decimetre of it cost.
-- Yield is finished volume over the volume bought, of lots from which something was cut.
-- @key lot_id
with cut_out as (
    select
        flow.lot_id,
        sum(flow.to_quantity - flow.from_quantity) as blank_mm3,
        -- a blank cut from several lots gives each its share of the finished volume
        sum(case when use.quantity > 0 and piece.status not in ('in progress', 'scrapped', 'lost')
                 then cut(piece.volume_mm3, flow.to_quantity - flow.from_quantity, use.quantity) else 0 end) as finished_mm3,
        sum(case when use.quantity > 0 and piece.status in ('scrapped', 'lost')
                 then cut(piece.volume_mm3, flow.to_quantity - flow.from_quantity, use.quantity) else 0 end) as scrapped_mm3,
        count(distinct piece.piece) as pieces
    from work.flow
    join work.use on use.use_id = flow.use_id and use.source = 'blank'
    join work.piece on piece.row_id = use.row_id
    group by flow.lot_id
)

select
    lot.lot_id, lot.lot, lot.species, lot.supplier, lot.form, lot.bought_on,
    coalesce(cut_out.pieces, 0) as pieces,
    lot.bought / 1000000 as bought_dm3, coalesce(cut_out.blank_mm3, 0) / 1000000 as blank_dm3,
    coalesce(cut_out.finished_mm3, 0) / 1000000 as finished_dm3, coalesce(cut_out.scrapped_mm3, 0) / 1000000 as scrapped_dm3,
    lot.on_hand / 1000000 as on_hand_dm3,
    case when cut_out.pieces > 0 then cut_out.finished_mm3 / lot.bought end as yield_share,
    lot.landed_cents,
    case when cut_out.finished_mm3 > 0 then cast(round(lot.landed_cents / (cut_out.finished_mm3 / 1000000)) as bigint) end as cents_per_finished_dm3
from cost.lot
left join cut_out on cut_out.lot_id = lot.lot_id
where lot.category = 'wood'
