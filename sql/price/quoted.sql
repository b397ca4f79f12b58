-- One row per saved quote, beside what the pieces made for it truly cost, a unit.
-- A piece is made for a quote if its order names the quote, or if it names the quote in place of an
-- order. True cost stands once all its pieces are finished; tests and scrap on the way there are
-- none of them, and what those cost is in the cost of the good ones, or lost. What was predicted is
-- at the prices of the day of the quote, the true cost at those paid.
-- @key quote
with made_for as (
    select quote.quote, piece.piece, piece.order_no
    from intake.quote as quote
    join records.orders as orders on orders.quote = quote.quote
    join cost.piece as piece on piece.order_no = orders.order_no
    union
    select quote.quote, piece.piece, piece.order_no
    from intake.quote as quote
    join cost.piece as piece on piece.order_no = quote.quote
),

price as (
    select
        made_for.quote, sum(history.price_cents * history.quantity) as cents,
        sum(history.quantity) as units
    from made_for
    join price.history as history on history.piece = made_for.piece
    where history.price_cents is not null
    group by made_for.quote
),

made as (
    select
        made_for.quote, min(made_for.order_no) as order_no, count(*) as pieces,
        min(made_for.piece) as first_piece, sum(cost.quantity) as units,
        case when bool_and(cost.status = 'finished' and cost.finished is not null)
             then max(cost.finished) end as finished,
        sum(cost.made_cents) as made_cents, sum(cost.labour_cents) as labour_cents,
        sum(cost.machine_cents) as machine_cents, sum(cost.overhead_cents) as overhead_cents,
        sum(cost.spoilage_cents) as spoilage_cents, sum(cost.rework_cents) as rework_cents,
        sum(cost.hours) as hours
    from made_for
    join cost.piece as cost on cost.piece = made_for.piece
    where cost.status not in ('test', 'scrapped', 'lost')
    group by made_for.quote
),

each as (
    select
        made.*, finished is not null and units > 0 as done,
        cut(made_cents, 1, units) as unit_cents, cut(labour_cents, 1, units) as unit_labour_cents,
        cut(machine_cents, 1, units) as unit_machine_cents,
        cut(overhead_cents, 1, units) as unit_overhead_cents,
        cut(spoilage_cents, 1, units) as unit_spoilage_cents,
        cut(rework_cents, 1, units) as unit_rework_cents
    from made
)

select
    quote.quote, quote.file, quote.on_date, quote.product, quote.species, quote.finish,
    quote.quantity, quote.channel, quote.quoted_price_cents, quote.predicted_10_cents,
    quote.predicted_50_cents, quote.predicted_80_cents, quote.predicted_90_cents,
    quote.quoted_labour_cents, quote.quoted_machine_cents, quote.quoted_overhead_cents,
    quote.quoted_material_cents, quote.quoted_rework_cents, quote.quoted_hours,
    each.order_no, coalesce(each.pieces, 0) as pieces, each.first_piece,
    coalesce(each.units, 0)::bigint as units, each.finished,
    case when done then unit_cents end as unit_cents,
    case when done then unit_labour_cents end as unit_labour_cents,
    case when done then unit_machine_cents end as unit_machine_cents,
    case when done then unit_overhead_cents end as unit_overhead_cents,
    case when done
         then cast(unit_cents - unit_labour_cents - unit_machine_cents - unit_overhead_cents
                   - unit_spoilage_cents as bigint) end as unit_material_cents,
    case when done then unit_spoilage_cents end as unit_spoilage_cents,
    case when done then unit_rework_cents end as unit_rework_cents,
    case when done then each.hours / each.units end as unit_hours,
    case when price.units > 0 then cut(price.cents, 1, price.units) end as price_cents,
    case when done
         then unit_cents between quote.predicted_10_cents and quote.predicted_90_cents end as inside
from intake.quote as quote
left join each on each.quote = quote.quote
left join price on price.quote = quote.quote
