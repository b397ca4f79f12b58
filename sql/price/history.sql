-- One row per finished piece or run: what it took, what that cost and would cost today, and what it
-- sold for.
-- A sale whose units all came back was none: such a piece is unsold until it is sold anew. Area and
-- volume are of the whole run; `unit_number` counts its first unit. Its list price is the last one,
-- or the one of the day on which the last unit left. What was made for an order that
-- stands, or sold before it was finished, waited for no buyer: an order of a later day found it on
-- the shelf.
-- @key piece
with materials as (
    select piece, sum(material_cents) as cents, sum(material_cents_today) as cents_today
    from price.material group by piece
),

labour as (
    select
        piece, sum(cents) as cents, sum(cents) filter (where origin = 'own labour') as own_cents,
        sum(quantity) as seconds, sum(quantity) filter (where rework) as rework_seconds
    from cost.movement
    where to_place = 'piece' and layer = 'labour' and from_place in ('labour', 'imputed')
    group by piece
),

sold as (
    select
        piece, min(on_date) as sold, arg_min(channel, (on_date, channel)) as channel,
        sum(units) as units, sum(price_cents * units) as cents
    from money.sold
    where units > 0 and not came_back
    group by piece
),

-- units that came back to be scrapped or kept are on offer no more
gone as (
    select piece, max(on_date) as on_date
    from work.exit group by piece having arg_max(units_out, number) >= any_value(units)
),

numbered as (
    select
        piece, 1 + coalesce(sum(units) over before, 0) as unit_number
    from work.piece where finished_on is not null
    window before as (
        partition by product order by finished_on, piece
        rows between unbounded preceding and 1 preceding
    )
)

select
    piece.piece, piece.product, piece.species, piece.finish, piece.units as quantity,
    piece.area_mm2, piece.volume_mm3, piece.finished_on as finished, sold.sold,
    case when sold.units > 0 then cut(sold.cents, 1, sold.units) end as price_cents,
    piece.listed_on as listed, case when sold.sold is null then gone.on_date end as gone,
    asked.list_price_cents, sold.channel, coalesce(labour.seconds, 0)::bigint as bench_seconds,
    coalesce(labour.cents, 0)::bigint as labour_cents,
    coalesce(labour.own_cents, 0)::bigint as own_labour_cents,
    coalesce(materials.cents_today, 0)::bigint as material_cents_today,
    coalesce(materials.cents, 0)::bigint as material_cents, cost.machine_cents, cost.overhead_cents,
    coalesce(labour.rework_seconds, 0)::bigint as rework_seconds, cost.rework_cents,
    coalesce(outcome.reworked, false) as reworked, cost.made_cents,
    numbered.unit_number::bigint as unit_number,
    coalesce(sold.sold < piece.finished_on, false) or (
        piece.order_no is not null and orders.cancelled is null
        and coalesce(orders.on_date < piece.finished_on, true)
    ) as made_to_order
from work.piece
join cost.piece as cost on cost.piece = piece.piece
join numbered on numbered.piece = piece.piece
left join materials on materials.piece = piece.piece
left join labour on labour.piece = piece.piece
left join sold on sold.piece = piece.piece
left join gone on gone.piece = piece.piece
asof left join work.list_price as asked
    on asked.piece = piece.piece and asked.from_date <= coalesce(gone.on_date, date '9999-12-31')
left join records.orders on orders.order_no = piece.order_no
left join quality.piece as outcome on outcome.piece = piece.piece and outcome.factor = 'shop'
where piece.finished_on is not null and piece.status = 'finished' and not piece.opening
