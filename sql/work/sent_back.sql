-- One row per line of goods sent back and lot that it comes off: the lot named, as far as it holds;
-- then the item's latest earlier purchase that still holds any, then the one before, and so on.
-- What no purchase holds has no lot.
-- Purchases lie on each other like a pile, each from one height to another; what goes back takes
-- the pile down, never below the ground. At each height that it takes away lies what was last put
-- there. What a line names is kept for it. `to_amount` runs over the lots of a line in that order.
-- A line without a usable quantity lowers what one lot cost.
-- @key row_id, lot_id
-- @check amount >= 0
with back as (
    select row_id, on_date, day_turn, item, returns, abs(coalesce(amount, 0)) as amount
    from work._bought where sent_back
),

bought as (
    select
        row_id as lot_id, on_date, day_turn, item, lot, opening,
        coalesce(amount, case when measured and category <> 'wood' then things else 0 end) as amount
    from work._bought where not sent_back and saved_from is null and item in (select item from back)
),

tagged as (
    select item, lot, lot_id, amount as held from bought where lot is not null
    qualify row_number()
        over (partition by item, lot order by on_date desc, day_turn desc) = 1
),

asked as (
    select
        back.row_id, tagged.lot_id, tagged.held, back.amount,
        sum(back.amount) over (
            partition by tagged.lot_id order by back.on_date, back.day_turn rows unbounded preceding
        ) as to_amount
    from back
    join tagged on tagged.item = back.item and tagged.lot = back.returns
),

named as (
    select row_id, lot_id, least(to_amount, held) - least(to_amount - amount, held) as amount
    from asked
),

kept as (select lot_id, sum(amount) as amount from named group by lot_id),

moves as (
    select
        bought.item, bought.on_date, 0 as turn, bought.day_turn, bought.lot_id as ref,
        bought.amount - coalesce(kept.amount, 0) as amount
    from bought
    left join kept on kept.lot_id = bought.lot_id
    union all by name
    select
        back.item, back.on_date, 1 as turn, back.day_turn, back.row_id as ref,
        coalesce(named.amount, 0) - back.amount as amount
    from back
    left join named on named.row_id = back.row_id
),

summed as (
    select *, row_number() over pile as number, sum(amount) over pile as net
    from moves where amount <> 0
    window pile as (partition by item order by on_date, turn, day_turn rows unbounded preceding)
),

piled as (
    select
        *,
        net - least(
            0, min(net) over (partition by item order by number rows unbounded preceding)
        ) as to_height
    from summed
),

spans as (
    select *, coalesce(lag(to_height) over (partition by item order by number), 0) as from_height
    from piled
),

heights as (
    select
        item, height, row_number() over upwards as step,
        lead(height) over upwards - height as amount
    from (select item, from_height as height from spans union select item, to_height from spans)
    window upwards as (partition by item order by height)
),

laid as (
    select
        spans.item, spans.number, spans.turn, spans.ref,
        unnest(range(least(bottom.step, top.step), greatest(bottom.step, top.step))) as step
    from spans
    join heights as bottom on bottom.item = spans.item and bottom.height = spans.from_height
    join heights as top on top.item = spans.item and top.height = spans.to_height
),

met as (select *, lag(ref) over (partition by item, step order by number) as lot_id from laid),

taken as (
    select row_id, lot_id, amount, true as by_name from named where amount > 0
    union all by name
    select met.ref as row_id, met.lot_id, sum(heights.amount) as amount, false as by_name
    from met
    join heights on heights.item = met.item and heights.step = met.step
    where met.turn = 1
    group by met.ref, met.lot_id
),

-- without a quantity only cents come back
unmeasured as (
    select
        back.row_id,
        coalesce(
            tagged.lot_id,
            max_by(bought.lot_id, (bought.on_date, bought.day_turn))
                filter (where bought.on_date <= back.on_date)
        ) as lot_id
    from back
    left join tagged on tagged.item = back.item and tagged.lot = back.returns
    left join bought on bought.item = back.item
    where back.amount = 0
    group by back.row_id, tagged.lot_id
),

covered as (select row_id, sum(amount) as amount from taken group by row_id),

parts as (
    select row_id, lot_id, amount, by_name from taken
    union all by name
    select row_id, lot_id, 0 as amount, false as by_name from unmeasured
    union all by name
    select back.row_id, back.amount - coalesce(covered.amount, 0) as amount, false as by_name
    from back
    left join covered on covered.row_id = back.row_id
    where back.amount > coalesce(covered.amount, 0)
)

select
    parts.row_id, parts.lot_id, cast(parts.amount as bigint) as amount,
    cast(sum(parts.amount) over (
        partition by parts.row_id
        order by
            parts.lot_id is null, not parts.by_name, bought.on_date desc, bought.day_turn desc
        rows unbounded preceding
    ) as bigint) as to_amount
from parts
left join bought on bought.lot_id = parts.lot_id
