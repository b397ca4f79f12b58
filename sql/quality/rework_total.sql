-- One row where pieces have been judged: how many of them came back to the bench, and what rework
-- and scrap took of hours and money, in all and in a month of the records.
-- The whole shop's, beside the rates of its groups. Pieces that may still come back are in no rate,
-- their hours and money are. Rework on what was scrapped later is lost with it and counts once. The
-- interval is Wilson's, 95 %, as that of a rate as counted.
-- @key months
-- @check low <= rate and rate <= high
with judged as (
    select
        judged.month, judged.reworked and not judged.young as came_back, judged.young,
        cost.rework_hours, judged.rework_cents,
        judged.scrap_cents - coalesce(lost.rework_cents, 0) as scrap_cents
    from quality._outcome as judged
    join cost.piece as cost on cost.piece = judged.piece
    left join quality._lost as lost on lost.piece = judged.piece
),

summed as (
    select
        count(*) filter (where not young) as pieces, count(*) filter (where came_back) as events,
        date_diff('month', min(month), max(month)) + 1 as months,
        -- in whole seconds: a sum of broken hours would hang on their order
        sum(whole(3600 * rework_hours)) as seconds,
        sum(rework_cents) as rework_cents, sum(scrap_cents) as scrap_cents
    from judged
    having count(*) > 0
),

told as (
    -- 1.96 standard deviations hold 95 % of a Normal
    select *, events / nullif(pieces, 0) as rate, 1.959964 ^ 2 / nullif(pieces, 0) as z from summed
),

wilson as (
    select
        *, (rate + z / 2) / (1 + z) as middle,
        sqrt(z * (rate * (1 - rate) + z / 4)) / (1 + z) as half
    from told
)

select
    pieces, events, rate,
    -- of none or of all the limit is the rate itself, which a root may miss in its last digit
    case when rate = 0 then rate else middle - half end as low,
    case when rate = 1 then rate else middle + half end as high,
    months, seconds / 3600 as rework_hours, seconds / 3600 / months as rework_hours_per_month,
    cast(rework_cents as bigint) as rework_cents, cast(scrap_cents as bigint) as scrap_cents,
    cast(cut(cast(rework_cents as bigint), 1, months) as bigint) as rework_per_month_cents,
    cast(cut(cast(scrap_cents as bigint), 1, months) as bigint) as scrap_per_month_cents
from wilson
