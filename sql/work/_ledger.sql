-- One row per supply or draw that takes its turn, with the stretch between counts that it is in.
-- Reserved draws and the part of a lot they hold are left out: the rest is what others draw on.
-- @key flow, kind, ref
with reserved as (
    select lot_id, sum(to_quantity - from_quantity) as quantity from work._named group by lot_id
),

supplies as (
    select
        lot.flow, lot.on_date, lot.day_turn, 'supply' as kind, lot.lot_id as ref,
        lot.quantity - coalesce(reserved.quantity, 0) as quantity
    from work.lot
    left join reserved on reserved.lot_id = lot.lot_id
    where lot.quantity > coalesce(reserved.quantity, 0)
),

draws as (
    select
        use.flow, use.on_date, use.day_turn, 'draw' as kind, use.use_id as ref,
        use.quantity - coalesce(named.to_quantity - named.from_quantity, 0) as quantity
    from work.use
    left join work._named as named on named.use_id = use.use_id
    where use.quantity > coalesce(named.to_quantity - named.from_quantity, 0)
),

moves as (select * from supplies union all by name select * from draws),

counts as (
    select
        flow, on_date, row_id, quantity,
        row_number() over (partition by flow order by on_date) as segment
    from work._count
)

select
    moves.flow, moves.on_date, moves.day_turn, moves.kind, moves.ref, cast(moves.quantity as bigint) as quantity,
    cast(coalesce(counts.segment, 0) as bigint) as segment,
    coalesce(counts.quantity, 0) as opening
from moves
asof left join counts on counts.flow = moves.flow and counts.on_date < moves.on_date
