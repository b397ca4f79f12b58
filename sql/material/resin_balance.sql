-- One row per resin and month, in grams and cents: what came in, where it went, what the book says
-- is on the shelf.
-- Opening and bought and missing receipts, less good, trimmed, left in cups, spilled, unexplained
-- in pours, found short or over by counts, other uses, is what is on hand at the month's end.
-- Colourant is in a mix but is no resin: the grams by fate are the resin's part. Of what is good,
-- sound + in re-pours + in scrapped pieces is all. What is dated before the first month counts as
-- of that one.
-- @key item, month
-- @check abs(opening_g + bought_g + missing_g + found_g - good_g - trimmed_g - cup_g - spilled_g -
--     pour_unexplained_g - other_g - shortage_g - on_hand_g) < 0.0005
-- @check abs(good_g - sound_g - in_repours_g - in_scrapped_g) < 0.0005
-- @check opening_cents + bought_cents + missing_cents + found_cents - good_cents - trimmed_cents -
--     cup_cents - spilled_cents - pour_unexplained_cents - other_cents - shortage_cents =
--     on_hand_cents
with resins as (
    select item, case unit when 'mg' then 0.001 else density_ug_per_ul / 1000000 end as g_per_unit
    from work.item where category = 'resin' and unit in ('mg', 'ul')
),

first as (select min(month) as month from work.month),

bought as (
    -- a kit of unknown size has a cost, and no grams
    select
        lot.item, greatest(month_of(lot.bought_on), (select month from first)) as month,
        sum(case when lots.flow = lot.item then lot.bought else 0 end) as bought,
        sum(lot.landed_cents) as bought_cents
    from cost.lot
    join work.lot as lots on lots.lot_id = lot.lot_id
    group by all
),

first_draws as (
    select lot_id, min(on_date) as on_date from material._draw where lot_id > 0 group by lot_id
),

opened as (
    select
        lot.item, greatest(month_of(drawn.on_date), (select month from first)) as month,
        sum(lot.bought) as opened
    from first_draws as drawn
    join cost.lot on lot.lot_id = drawn.lot_id
    group by all
),

missing as (
    select
        flow as item, greatest(month_of(on_date), (select month from first)) as month,
        sum(quantity) as missing
    from work.missing group by all
),

counted as (
    select
        flow as item, greatest(month_of(on_date), (select month from first)) as month,
        sum(beyond) as found
    from work.found group by all
),

weighed as (
    select
        item, on_date,
        sum(case when counts.quantity = 0 then 0 else in_base(
            counts.quantity, quantity_unit, unit, density_ug_per_ul, kit_ul, kit_mg := kit_mg
        ) end) as quantity
    from records.counts
    join work.item using (item)
    where worth_cents is null group by item, on_date
),

on_shelf as (
    select
        item, greatest(month_of(on_date), (select month from first)) as month,
        arg_max(quantity, on_date) as counted, max(on_date) as counted_on
    from weighed group by all
),

drawn as (
    select
        item, greatest(month_of(on_date), (select month from first)) as month,
        sum(columns([
            'quantity', 'poured', 'good', 'scrapped', 'repour', 'trimmed', 'cup', 'spilled',
            'unexplained', 'other', 'short', 'expired'
        ]))
    from material._draw group by item, month
),

-- each movement of cents once, by the record that caused it: a pour (its waste by cause, by grams),
-- a count, or another use
taken as (
    select
        item, on_date, row_id,
        case when 'imputed' in (from_place, to_place) then 'imputed'
             when layer = 'resin waste' then 'waste'
             else 'kept' end as way,
        case when from_place = 'imputed' then cents
             when from_place = 'stock' and to_place <> 'imputed' then cents
             else -cents end as cents
    from cost.movement
    where item in (select item from resins) and quantity is not null
        and 'stock' in (from_place, to_place)
        -- what a lot cost is in `bought`: bought, sent back and lost by it, there at the start,
        -- saved from a piece
        and from_place not in ('receipt', 'setting') and to_place not in ('receipt', 'setting')
),

moved as (
    select
        item, on_date, row_id,
        coalesce(sum(cents) filter (where way = 'imputed'), 0) as imputed_cents,
        coalesce(sum(cents) filter (where way = 'kept'), 0) as kept_cents,
        coalesce(sum(cents) filter (where way = 'waste'), 0) as waste_cents
    from taken
    group by item, on_date, row_id
),

causes as (
    select
        row_id, item, min(fate) as fate, sum(good) as good, sum(scrapped) as scrapped,
        sum(repour) as repour, sum(trimmed) as trimmed, sum(cup) as cup, sum(spilled) as spilled,
        sum(unexplained) as unexplained
    from material._draw group by row_id, item
),

shared as (
    select
        moved.item, greatest(month_of(moved.on_date), (select month from first)) as month,
        moved.imputed_cents, counts.row_id is not null as by_count,
        coalesce(causes.fate, case when by_count then 'short' else 'other' end) as fate,
        moved.kept_cents, moved.waste_cents,
        nullif(causes.good, 0) as of_good,
        nullif(trimmed + cup + spilled + unexplained, 0) as of_waste,
        coalesce(cut(kept_cents, scrapped, of_good), 0) as scrapped_cents,
        coalesce(cut(kept_cents, repour, of_good), 0) as repour_cents,
        coalesce(cut(waste_cents, trimmed, of_waste), 0) as to_trimmed,
        coalesce(cut(waste_cents, trimmed + cup, of_waste), 0) as to_cup,
        coalesce(cut(waste_cents, trimmed + cup + spilled, of_waste), 0) as to_spilled
    from moved
    left join causes on causes.row_id = moved.row_id and causes.item = moved.item
    left join records.counts on counts.row_id = moved.row_id
),

cents as (
    select
        item, month,
        sum(imputed_cents) filter (where not by_count) as missing_cents,
        sum(imputed_cents) filter (where by_count) as found_cents,
        sum(kept_cents) filter (where fate = 'pour') as good_cents,
        sum(scrapped_cents) as scrapped_cents, sum(repour_cents) as repour_cents,
        sum(to_trimmed) as trimmed_cents, sum(to_cup - to_trimmed) as cup_cents,
        sum(to_spilled - to_cup) as spilled_cents,
        sum(waste_cents - to_spilled) filter (where fate = 'pour') as unexplained_cents,
        sum(kept_cents + waste_cents) filter (where fate = 'other') as other_cents,
        sum(kept_cents + waste_cents) filter (where fate in ('short', 'expired')) as short_cents
    from shared group by item, month
),

joined as (
    select
        resins.item, resins.g_per_unit, month.month, on_shelf.counted, on_shelf.counted_on,
        bought.* exclude (item, month), opened.* exclude (item, month),
        missing.* exclude (item, month), counted.* exclude (item, month),
        drawn.* exclude (item, month), cents.* exclude (item, month)
    from resins
    cross join work.month
    left join bought on bought.item = resins.item and bought.month = month.month
    left join opened on opened.item = resins.item and opened.month = month.month
    left join missing on missing.item = resins.item and missing.month = month.month
    left join counted on counted.item = resins.item and counted.month = month.month
    left join on_shelf on on_shelf.item = resins.item and on_shelf.month = month.month
    left join drawn on drawn.item = resins.item and drawn.month = month.month
    left join cents on cents.item = resins.item and cents.month = month.month
),

monthly as (
    select
        item, g_per_unit, month, counted, counted_on,
        cast(coalesce(
            columns(* exclude (item, g_per_unit, month, counted, counted_on)), 0
        ) as bigint)
    from joined
),

net as (
    select
        *, bought + missing + found - quantity as net,
        good_cents + trimmed_cents + cup_cents + spilled_cents + unexplained_cents as poured_cents,
        bought_cents + missing_cents + found_cents - poured_cents - other_cents - short_cents
            as net_cents
    from monthly
),

running as (
    select
        *, sum(net) over so_far as on_hand,
        cast(sum(net_cents) over so_far as bigint) as on_hand_cents
    from net
    window so_far as (partition by item order by month rows unbounded preceding)
)

select
    item, month,
    (on_hand - net) * g_per_unit as opening_g, bought * g_per_unit as bought_g,
    opened * g_per_unit as opened_g, missing * g_per_unit as missing_g,
    poured * g_per_unit as poured_g, good * g_per_unit as good_g,
    (good - scrapped - repour) * g_per_unit as sound_g, repour * g_per_unit as in_repours_g,
    scrapped * g_per_unit as in_scrapped_g, trimmed * g_per_unit as trimmed_g,
    cup * g_per_unit as cup_g, spilled * g_per_unit as spilled_g,
    unexplained * g_per_unit as pour_unexplained_g, other * g_per_unit as other_g,
    found * g_per_unit as found_g, short * g_per_unit as shortage_g,
    expired * g_per_unit as expired_g, on_hand * g_per_unit as on_hand_g,
    counted * g_per_unit as counted_g, counted_on,
    on_hand_cents - net_cents as opening_cents, bought_cents, missing_cents, found_cents,
    poured_cents, good_cents, good_cents - scrapped_cents - repour_cents as sound_cents,
    repour_cents as in_repours_cents, scrapped_cents as in_scrapped_cents, trimmed_cents,
    cup_cents, spilled_cents, unexplained_cents as pour_unexplained_cents, other_cents,
    short_cents as shortage_cents, on_hand_cents
from running
