-- One row per resin and month, in grams: what came in, where it went, what the book says is on the shelf.
-- Opening and bought and missing receipts, less good, trimmed, left in cups, spilled, unexplained in pours, found short or
-- over by counts, other uses, is what is on hand at the month's end.
-- @key item, month
-- @check abs(opening_g + bought_g + missing_g + found_g - good_g - trimmed_g - cup_g - spilled_g - pour_unexplained_g - other_g - shortage_g - on_hand_g) < 0.0005
with resins as (select item from work.item where category = 'resin' and unit = 'mg'),

bought as (
    select item, month_of(on_date) as month, sum(quantity) as mg from work.lot where category = 'resin' group by item, month_of(on_date)
),

missing as (select flow as item, month_of(on_date) as month, sum(quantity) as mg from work.missing group by flow, month_of(on_date)),

counted as (
    select flow as item, month_of(on_date) as month, sum(greatest(found, 0)) as found_mg, sum(greatest(-found, 0)) as short_mg
    from work.counted group by flow, month_of(on_date)
),

poured as (
    select
        resin as item, month_of(on_date) as month, sum(resin_mg) as resin_mg,
        -- colourant is in the mix but is no resin: the grams by fate are the resin's part of them
        sum(case when mixed_mg > 0 then cut(good_mg, resin_mg, mixed_mg) else 0 end) as good_mg,
        sum(case when mixed_mg > 0 then cut(trimmed_mg, resin_mg, mixed_mg) else 0 end) as trimmed_mg,
        sum(case when mixed_mg > 0 then cut(coalesce(left_in_cup_mg, 0), resin_mg, mixed_mg) else 0 end) as cup_mg,
        sum(case when mixed_mg > 0 then cut(coalesce(spilled_mg, 0), resin_mg, mixed_mg) else 0 end) as spilled_mg
    from work.pour group by resin, month_of(on_date)
),

drawn as (select flow as item, month_of(on_date) as month, sum(quantity) as mg from work.use where source = 'usage' group by flow, month_of(on_date)),

monthly as (
    select
        resins.item, month.month,
        coalesce(bought.mg, 0) as bought, coalesce(missing.mg, 0) as missing, coalesce(counted.found_mg, 0) as found, coalesce(counted.short_mg, 0) as short,
        coalesce(poured.good_mg, 0) as good, coalesce(poured.trimmed_mg, 0) as trimmed, coalesce(poured.cup_mg, 0) as cup, coalesce(poured.spilled_mg, 0) as spilled,
        coalesce(poured.resin_mg, 0) as poured, coalesce(drawn.mg, 0) as other
    from resins
    cross join work.month
    left join bought on bought.item = resins.item and bought.month = month.month
    left join missing on missing.item = resins.item and missing.month = month.month
    left join counted on counted.item = resins.item and counted.month = month.month
    left join poured on poured.item = resins.item and poured.month = month.month
    left join drawn on drawn.item = resins.item and drawn.month = month.month
),

running as (
    select *, sum(bought + missing + found - short - poured - other) over (partition by item order by month rows unbounded preceding) as on_hand from monthly
)

select
    item, month,
    (on_hand - bought - missing - found + short + poured + other) / 1000 as opening_g,
    bought / 1000 as bought_g, missing / 1000 as missing_g, poured / 1000 as poured_g, good / 1000 as good_g, trimmed / 1000 as trimmed_g, cup / 1000 as cup_g,
    spilled / 1000 as spilled_g, (poured - good - trimmed - cup - spilled) / 1000 as pour_unexplained_g, other / 1000 as other_g,
    found / 1000 as found_g, short / 1000 as shortage_g, on_hand / 1000 as on_hand_g
from running
