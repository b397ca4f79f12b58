-- One row per group of judged pieces (those of quality.saving): how many units of it were sold, and
-- what they left after all that they cost, own pay and selling too, in all and in a month of the
-- same months.
-- To do without a group is to do without this as well.
-- @key factor, level
with sold as (
    select
        piece, sum(units) as units,
        sum(revenue_cents - cost_of_sales_cents - selling_cents) as margin_cents
    from money._margin_entry where piece is not null group by piece
),

groups as (select factor, level, months from quality.saving)

select
    groups.factor, groups.level, cast(coalesce(sum(sold.units), 0) as bigint) as units,
    cast(coalesce(sum(sold.margin_cents), 0) as bigint) as margin_cents,
    cast(cut(coalesce(sum(sold.margin_cents), 0), 1, any_value(groups.months)) as bigint)
        as margin_per_month_cents
from groups
left join quality.piece as judged on judged.factor = groups.factor and judged.level = groups.level
left join sold on sold.piece = judged.piece
group by groups.factor, groups.level
