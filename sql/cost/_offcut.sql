-- One row per closed wooden lot and piece cut from it: the rest of the lot's cost, shared by blank
-- volume, or by value where all its blanks have one.
-- A lot is closed by a count of zero; a closed lot from which nothing was cut is wasted.
with closings as (
    select lot, min(on_date) as on_date, min_by(row_id, (on_date, cause, row_id)) as row_id
    from records.counts where lot is not null and quantity = 0 group by lot
),

taken as (
    select lot_id, sum(to_quantity - from_quantity) as quantity from work.flow group by lot_id
),

rest as (
    select
        lot.lot_id, lot.lot, lot.item, closings.on_date, closings.row_id,
        lot.quantity - coalesce(taken.quantity, 0) as rest_mm3,
        lot.cents - coalesce((
            select sum(share(lot.cents, flow.from_quantity, flow.to_quantity, lot.quantity))
            from work.flow where flow.lot_id = lot.lot_id
        ), 0) as cents
    from cost._lot as lot
    join closings on closings.lot = lot.lot
    left join taken on taken.lot_id = lot.lot_id
    where lot.category = 'wood'
),

pieces as (
    select
        flow.lot_id, target.piece,
        sum(coalesce(by_value.value_cents, flow.to_quantity - flow.from_quantity)) as weight
    from work.flow
    left join cost._blank_value as by_value
        on by_value.lot_id = flow.lot_id and by_value.use_id = flow.use_id
    join work.target on target.use_id = flow.use_id and target.piece is not null
    group by flow.lot_id, target.piece
),

running as (
    select
        *,
        sum(weight) over (partition by lot_id order by piece) as to_weight,
        sum(weight) over (partition by lot_id) as all_weight
    from pieces
)

select
    rest.on_date, rest.row_id, rest.lot_id as paid_row_id, rest.lot, rest.item, running.piece,
    case when running.piece is null then 'waste' else 'piece' end as place,
    cast(case
        when running.piece is null then rest.cents
        else share(rest.cents, to_weight - weight, to_weight, all_weight) end as bigint) as cents,
    cast(case
        when running.piece is null then rest.rest_mm3
        else share(rest.rest_mm3, to_weight - weight, to_weight, all_weight) end as bigint) as quantity
from rest
left join running on running.lot_id = rest.lot_id
