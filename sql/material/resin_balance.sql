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

bought as (
    -- a kit of unknown size has a cost, and no grams
    select
        lot.item, greatest(month_of(lot.bought_on), (select min(month) from work.month)) as month,
        sum(case when lots.flow = lot.item then lot.bought else 0 end) as quantity,
        sum(lot.landed_cents) as cents
    from cost.lot join work.lot as lots on lots.lot_id = lot.lot_id
    group by all
),

opened as (
    select
        lot.item, greatest(month_of(drawn.on_date), (select min(month) from work.month)) as month,
        sum(lot.bought) as quantity
    from (select lot_id, min(on_date) as on_date from material._draw where lot_id > 0 group by lot_id) as drawn
    join cost.lot on lot.lot_id = drawn.lot_id
    group by all
),

missing as (
    select
        flow as item, greatest(month_of(on_date), (select min(month) from work.month)) as month,
        sum(quantity) as quantity
    from work.missing group by all
),

counted as (
    select
        flow as item, greatest(month_of(on_date), (select min(month) from work.month)) as month,
        sum(greatest(found, 0)) as found
    from work.counted group by all
),

weighed as (
    select
        item, on_date,
        sum(in_base(counts.quantity, counts.quantity_unit, unit, density_ug_per_ul, kit_ul)) as quantity
    from records.counts join work.item using (item) where worth_cents is null group by item, on_date
),

on_shelf as (
    select
        item, greatest(month_of(on_date), (select min(month) from work.month)) as month,
        arg_max(quantity, on_date) as quantity, max(on_date) as on_date
    from weighed group by all
),

drawn as (
    select
        item, greatest(month_of(on_date), (select min(month) from work.month)) as month,
        sum(quantity) as quantity, sum(poured) as poured, sum(good) as good,
        sum(scrapped) as scrapped, sum(repour) as repour, sum(trimmed) as trimmed, sum(cup) as cup,
        sum(spilled) as spilled, sum(unexplained) as unexplained, sum(other) as other,
        sum(short) as short, sum(expired) as expired
    from material._draw group by all
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
    from cost.trace
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
        moved.item, greatest(month_of(moved.on_date), (select min(month) from work.month)) as month,
        moved.imputed_cents, counts.row_id is not null as by_count,
        coalesce(causes.fate, case when counts.row_id is null then 'other' else 'short' end) as fate,
        moved.kept_cents, moved.waste_cents,
        case when causes.good > 0 then cut(kept_cents, causes.scrapped, causes.good)
             else 0 end as scrapped_cents,
        case when causes.good > 0 then cut(kept_cents, causes.repour, causes.good)
             else 0 end as repour_cents,
        causes.trimmed + causes.cup + causes.spilled + causes.unexplained as all_waste,
        case when all_waste > 0 then cut(waste_cents, causes.trimmed, all_waste)
             else 0 end as to_trimmed,
        case when all_waste > 0 then cut(waste_cents, causes.trimmed + causes.cup, all_waste)
             else 0 end as to_cup,
        case when all_waste > 0
             then cut(waste_cents, causes.trimmed + causes.cup + causes.spilled, all_waste)
             else 0 end as to_spilled
    from moved
    left join causes on causes.row_id = moved.row_id and causes.item = moved.item
    left join records.counts on counts.row_id = moved.row_id
),

cents as (
    select
        item, month, sum(case when by_count then 0 else imputed_cents end) as missing,
        sum(case when by_count then imputed_cents else 0 end) as found,
        sum(case when fate = 'pour' then kept_cents else 0 end) as good,
        sum(scrapped_cents) as scrapped, sum(repour_cents) as repour, sum(to_trimmed) as trimmed,
        sum(to_cup - to_trimmed) as cup, sum(to_spilled - to_cup) as spilled,
        sum(case when fate = 'pour' then waste_cents - to_spilled else 0 end) as unexplained,
        sum(case when fate = 'other' then kept_cents + waste_cents else 0 end) as other,
        sum(case when fate in ('short', 'expired') then kept_cents + waste_cents else 0 end) as short
    from shared group by item, month
),

monthly as (
    select
        resins.item, resins.g_per_unit, month.month,
        coalesce(bought.quantity, 0) as bought, coalesce(opened.quantity, 0) as opened,
        coalesce(missing.quantity, 0) as missing, coalesce(counted.found, 0) as found,
        on_shelf.quantity as counted, on_shelf.on_date as counted_on,
        coalesce(drawn.quantity, 0) as drawn, drawn.* exclude (item, month, quantity),
        coalesce(bought.cents, 0) as bought_cents, coalesce(cents.missing, 0) as missing_cents,
        coalesce(cents.found, 0) as found_cents, coalesce(cents.good, 0) as good_cents,
        coalesce(cents.scrapped, 0) as scrapped_cents, coalesce(cents.repour, 0) as repour_cents,
        coalesce(cents.trimmed, 0) as trimmed_cents, coalesce(cents.cup, 0) as cup_cents,
        coalesce(cents.spilled, 0) as spilled_cents,
        coalesce(cents.unexplained, 0) as unexplained_cents,
        coalesce(cents.other, 0) as other_cents, coalesce(cents.short, 0) as short_cents
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

net as (
    select
        *, bought + missing + found - drawn as net,
        bought_cents + missing_cents + found_cents - good_cents - trimmed_cents - cup_cents - spilled_cents - unexplained_cents - other_cents - short_cents as net_cents
    from monthly
),

running as (
    select *, sum(net) over so_far as on_hand, sum(net_cents) over so_far as on_hand_cents from net
    window so_far as (partition by item order by month rows unbounded preceding)
)

select
    item, month,
    (on_hand - net) * g_per_unit as opening_g, bought * g_per_unit as bought_g,
    opened * g_per_unit as opened_g, missing * g_per_unit as missing_g,
    coalesce(poured, 0) * g_per_unit as poured_g, coalesce(good, 0) * g_per_unit as good_g,
    coalesce(good - scrapped - repour, 0) * g_per_unit as sound_g,
    coalesce(repour, 0) * g_per_unit as in_repours_g,
    coalesce(scrapped, 0) * g_per_unit as in_scrapped_g,
    coalesce(trimmed, 0) * g_per_unit as trimmed_g, coalesce(cup, 0) * g_per_unit as cup_g,
    coalesce(spilled, 0) * g_per_unit as spilled_g,
    coalesce(unexplained, 0) * g_per_unit as pour_unexplained_g,
    coalesce(other, 0) * g_per_unit as other_g, found * g_per_unit as found_g,
    coalesce(short, 0) * g_per_unit as shortage_g, coalesce(expired, 0) * g_per_unit as expired_g,
    on_hand * g_per_unit as on_hand_g, counted * g_per_unit as counted_g, counted_on,
    cast(on_hand_cents - net_cents as bigint) as opening_cents,
    cast(bought_cents as bigint) as bought_cents, cast(missing_cents as bigint) as missing_cents,
    cast(found_cents as bigint) as found_cents,
    cast(good_cents + trimmed_cents + cup_cents + spilled_cents + unexplained_cents as bigint) as poured_cents,
    cast(good_cents as bigint) as good_cents,
    cast(good_cents - scrapped_cents - repour_cents as bigint) as sound_cents,
    cast(repour_cents as bigint) as in_repours_cents,
    cast(scrapped_cents as bigint) as in_scrapped_cents,
    cast(trimmed_cents as bigint) as trimmed_cents, cast(cup_cents as bigint) as cup_cents,
    cast(spilled_cents as bigint) as spilled_cents,
    cast(unexplained_cents as bigint) as pour_unexplained_cents,
    cast(other_cents as bigint) as other_cents, cast(short_cents as bigint) as shortage_cents,
    cast(on_hand_cents as bigint) as on_hand_cents
from running
