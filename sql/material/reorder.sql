-- One row per thing that takes its turn on the shelf: what is there, and what orders in hand and a
-- usual month will need.
-- An order in hand is neither cancelled nor handed over nor finished; it needs what the product's
-- finished pieces took on average (of each wood by how often it was that wood), less what its piece
-- in progress has drawn already. What is short is priced as the last lot bought.
-- @key flow
with there as (
    select flow, sum(on_hand) as on_hand, sum(on_hand_cents) as on_hand_cents, count(*) as lots
    from material._on_shelf group by flow
),

known as (
    select
        work_lot.flow, min(lot.category) as category, min(lot.unit) as unit,
        max(lot.bought_on) as bought_on,
        arg_max(lot.supplier, (lot.bought_on, work_lot.day_turn, lot.lot_id)) as supplier,
        arg_max(lot.landed_cents / lot.bought, (lot.bought_on, work_lot.day_turn, lot.lot_id)) filter (
            where lot.landed_cents > 0 and lot.bought > 0
        ) as unit_cents
    from cost.lot
    join work.lot as work_lot on work_lot.lot_id = lot.lot_id
    group by work_lot.flow
),

shelf as (
    select
        known.*, coalesce(there.on_hand, 0) as on_hand,
        coalesce(there.on_hand_cents, 0) as on_hand_cents, coalesce(there.lots, 0) as lots
    from known left join there on there.flow = known.flow
),

done as (
    select order_no from records.sales where order_no is not null and coalesce(quantity, 1) > 0
    union
    select order_no from work.piece where order_no is not null and status = 'finished'
),

in_hand as (
    select order_no, product from records.orders
    where cancelled is null and product is not null and order_no not in (from done)
),

drawn as (
    select movement.piece, lot.flow, sum(movement.quantity) as quantity
    from cost.movement
    join work.lot on lot.lot_id = movement.paid_row_id
    where movement.from_place = 'stock' and movement.to_place = 'piece'
    group by movement.piece, lot.flow
),

finished as (
    select product, count(*) as pieces
    from work.piece where status = 'finished' and not opening group by product
),

usual as (
    select piece.product, drawn.flow, sum(drawn.quantity) / any_value(finished.pieces) as quantity
    from drawn
    join work.piece on piece.piece = drawn.piece and piece.status = 'finished' and not piece.opening
    join finished on finished.product = piece.product
    group by piece.product, drawn.flow
),

begun as (
    select piece.order_no, drawn.flow, sum(drawn.quantity) as quantity
    from drawn join work.piece on piece.piece = drawn.piece
    where piece.order_no is not null and piece.status = 'in progress'
    group by piece.order_no, drawn.flow
),

-- wood that is cut is chosen: of the other woods its order needs none
cut_for as (select distinct order_no from begun where flow like 'wood/%'),

needed as (
    select
        usual.flow, in_hand.order_no,
        case when usual.flow like 'wood/%' and cut_for.order_no is not null then 0
             else greatest(usual.quantity - coalesce(begun.quantity, 0), 0) end as quantity
    from in_hand
    join usual on usual.product = in_hand.product
    left join begun on begun.order_no = in_hand.order_no and begun.flow = usual.flow
    left join cut_for on cut_for.order_no = in_hand.order_no
),

needs as (
    select flow, count(distinct order_no) as orders, sum(quantity order by order_no) as quantity
    from needed where quantity > 0 group by flow
),

compared as (
    select
        shelf.*, coalesce(needs.orders, 0) as orders, coalesce(needs.quantity, 0) as orders_need,
        -- of too few months nobody knows what a usual one takes
        case when pace.months >= few_months() then pace.usual_month
             when (select max(months) from material._pace) >= few_months() then 0
        end as usual_month
    from shelf
    left join needs on needs.flow = shelf.flow
    left join material._pace as pace on pace.flow = shelf.flow
),

lacking as (select *, greatest(orders_need + coalesce(usual_month, 0) - on_hand, 0) as lacks from compared),

-- what is counted is bought whole
whole as (
    select
        *, case when unit in ('each', 'kit') then ceil(lacks / 1000) * 1000 else lacks end as short
    from lacking
)

select
    flow, category, unit, lots, cast(on_hand as bigint) as on_hand,
    cast(on_hand_cents as bigint) as on_hand_cents, bought_on, supplier, usual_month,
    case when usual_month > 0 then on_hand / usual_month end as months_cover, orders, orders_need,
    short, whole(short * unit_cents) as buy_cents, short > 0 as buy
from whole
