-- One row per lot, draw and place it went to, in cents: stock leaving the shelf.
-- Under the moving average a draw's cents are the average's, and its lots only say what quantity
-- came from where. A draw's cents go over its pieces by weight. Where a draw on several lots goes
-- to several pieces, both are laid end to end and cut at each other's ends: as many rows as lots
-- and pieces together, not one for each pair.
with draws as (
    select
        draw.*, sum(draw.quantity) over so_far as to_drawn,
        sum(draw.quantity) over whole as all_drawn
    from cost._draw as draw
    window whole as (partition by draw.use_id, draw.reserved, draw.on_date),
        so_far as (
            partition by draw.use_id, draw.reserved, draw.on_date
            order by not draw.imputed, draw.bought_on, draw.day_turn, draw.lot_id, draw.from_quantity
            rows unbounded preceding
        )
),

valued as (
    select
        draws.* exclude (cents),
        cast(case when average.use_id is not null and not draws.reserved
             then share(average.cents, to_drawn - quantity, to_drawn, all_drawn)
             else draws.cents end as bigint) as cents,
        row_number() over (
            order by
                draws.use_id, not draws.imputed, draws.bought_on, draws.day_turn, draws.lot_id,
                draws.from_quantity
        ) as part
    from draws
    left join cost._average as average
        on average.use_id = draws.use_id and average.on_date = draws.on_date
),

parts as (
    select
        *, sum(cents) over so_far as to_cents, sum(quantity) over so_far as to_quantity,
        min(cents) over whole as least_cents, count(*) over whole as parts
    from valued
    window whole as (partition by use_id),
        so_far as (partition by use_id order by part rows unbounded preceding)
),

targets as (
    select
        *, row_number() over (order by use_id, to_weight) as aim,
        count(*) over (partition by use_id) as aims
    from work.target
),

plain as (
    select
        parts.part, targets.aim,
        share(cents, to_weight - weight, to_weight, all_weight) as cents,
        share(quantity, to_weight - weight, to_weight, all_weight) as quantity
    from parts
    join targets on targets.use_id = parts.use_id
    where parts.parts = 1 or targets.aims = 1 or parts.least_cents < 0
),

many as (
    select parts.use_id, max(parts.to_cents) as cents, max(parts.to_quantity) as quantity
    from parts
    semi join (select use_id from targets where aims > 1) as shared on shared.use_id = parts.use_id
    where parts.parts > 1 and parts.least_cents >= 0
    group by parts.use_id
),

-- cents and quantity each in a line of their own: a draw's cents and its quantity both go by weight
ends as (
    select parts.use_id, 'cents' as measure, parts.to_cents as end_at, parts.part
    from parts
    semi join many on many.use_id = parts.use_id
    where parts.cents > 0
    union all by name
    select parts.use_id, 'quantity' as measure, parts.to_quantity as end_at, parts.part
    from parts
    semi join many on many.use_id = parts.use_id
    union all by name
    select
        targets.use_id, 'cents' as measure, cut(many.cents, to_weight, all_weight) as end_at,
        targets.aim
    from targets
    join many on many.use_id = targets.use_id
    where share(many.cents, to_weight - weight, to_weight, all_weight) > 0
    union all by name
    select
        targets.use_id, 'quantity' as measure, cut(many.quantity, to_weight, all_weight) as end_at,
        targets.aim
    from targets
    join many on many.use_id = targets.use_id
    where share(many.quantity, to_weight - weight, to_weight, all_weight) > 0
),

points as (
    select use_id, measure, end_at, max(part) as part, max(aim) as aim
    from ends group by use_id, measure, end_at
),

stretches as (
    select
        measure, end_at - coalesce(lag(end_at) over so_far, 0) as length,
        first_value(part ignore nulls) over rest as part,
        first_value(aim ignore nulls) over rest as aim
    from points
    window so_far as (partition by use_id, measure order by end_at), rest as (
        partition by use_id, measure
        order by end_at rows between current row and unbounded following
    )
),

laid as (
    select
        part, aim,
        coalesce(sum(length) filter (where measure = 'cents'), 0) as cents,
        coalesce(sum(length) filter (where measure = 'quantity'), 0) as quantity
    from stretches group by part, aim
),

shares as (select * from plain union all by name select * from laid)

select
    parts.on_date, parts.row_id, parts.paid_row_id, targets.place, targets.layer, targets.piece,
    parts.lot, parts.item, parts.unit,
    cast(shares.cents as bigint) as cents, cast(shares.quantity as bigint) as quantity,
    targets.rework, targets.assumed or parts.uncounted and not parts.reserved as assumed,
    targets.estimated or parts.imputed as estimated,
    case when targets.layer = 'resin waste' then 'resin' else targets.layer end as origin
from shares
join parts on parts.part = shares.part
join targets on targets.aim = shares.aim
