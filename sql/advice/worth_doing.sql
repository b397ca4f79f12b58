-- One row per thing worth doing next, the most worth first: what it is about, and the cents of a
-- year that hang on it.
-- Whatever is asked, missing, guessed, priced below its cost or likely to save, of the twelve
-- months that end with the last whole one; what lies on the shelf or waits for an answer as it is
-- today. `sure_share`: how sure it is that doing it moves so many cents. What a record would show
-- is as likely more as less than what stands in for it: a half; so is a loss on a few units alone.
-- Rank is by the cents times that.
-- @key deed, subject, about
-- @check at_stake_cents >= 0 and sure_share between 0 and 1
with year as (
    select
        coalesce(max(month) filter (where whole), max(month)) as last_month,
        last_month - interval 11 month as first_month
    from money.month
),

recent as (
    select movement.*
    from cost.movement
    cross join year
    where movement.on_date >= year.first_month
),

answers as (
    select
        'answer' as deed, ask as subject, question as about, rows as times,
        worth_cents as at_stake_cents, case holds when 'file' then 1.0 else 0.5 end as sure_share
    from intake.question
    where holds <> ''
),

receipts as (
    select
        'find' as deed, recent.item as subject, coalesce(lot.flow, recent.item) as about,
        count(*) as times, sum(recent.cents) as at_stake_cents, 0.5 as sure_share
    from recent
    left join work.lot on lot.lot_id = recent.paid_row_id
    where recent.from_place = 'imputed' and recent.to_place = 'stock'
        and recent.row_id not in (select row_id from work.unasked)
    group by subject, about
),

logs as (
    select
        'log' as deed, operation as subject, '' as about, count(distinct piece) as times,
        sum(cents) as at_stake_cents, 0.5 as sure_share
    from recent
    where from_place = 'imputed' and to_place = 'piece' and layer = 'labour'
    group by operation
),

names as (
    select
        'name' as deed, unnamed.operation as subject, '' as about, sum(unnamed.records) as times,
        sum(unnamed.cents) as at_stake_cents, 0.5 as sure_share
    from cost.unnamed
    cross join year
    where unnamed.month >= year.first_month
    group by unnamed.operation
),

gone as (select piece, arg_max(units_out, number) as units from work.exit group by piece),

prices as (
    select
        'price' as deed, relist.piece as subject, relist.product as about,
        history.quantity - coalesce(gone.units, 0) as times,
        relist.short_cents * times as at_stake_cents, 1.0 as sure_share,
        relist.list_price_cents as price_cents, relist.suggested_price_cents as ask_cents,
        relist.sold_pieces, relist.sold_as_high_pieces
    from price.relist
    join price.history on history.piece = relist.piece
    left join gone on gone.piece = relist.piece
),

losses as (
    select
        'change' as deed, level as subject, '' as about, units as times,
        -margin_cents as at_stake_cents, case when units >= few() then 1.0 else 0.5 end as sure_share,
        cut(net_revenue_cents, 1, nullif(units, 0)) as price_cents
    from money.margin
    where factor = 'product' and span = 'twelve months' and margin_cents < 0 and units > 0
),

tries as (
    select
        'try' as deed, level as subject, factor as about, months as times,
        whole(12 * cents_per_month) as at_stake_cents,
        chance_positive as sure_share
    from quality.saving
    where clear
),

in_hand as (
    select list(coalesce(price_cents, 0) order by price_cents nulls first) as prices
    from records.orders
    where cancelled is null and order_no not in (
        select order_no from records.sales where order_no is not null
        union
        select order_no from work.piece where order_no is not null and status = 'finished'
    )
),

buys as (
    select
        'buy' as deed, arg_max(reorder.flow, (reorder.buy_cents, reorder.flow)) as subject,
        '' as about, count(*) as times,
        -- so many orders wait at least, and each is worth at least what the cheapest are
        coalesce(list_sum(any_value(in_hand.prices)[1:max(reorder.orders)]), 0) as at_stake_cents,
        1.0 as sure_share, sum(reorder.buy_cents) as price_cents
    from material.reorder
    cross join in_hand
    where reorder.orders_need > reorder.on_hand
    having count(*) > 0
),

ages as (
    select
        'use' as deed, item as subject, '' as about, count(*) as times,
        sum(on_hand_cents) as at_stake_cents, 1.0 as sure_share
    from material.stock
    where category = 'resin' and shelf_life <> 'keeps' and on_hand > 0
    group by item
),

cash as (
    select
        'reconcile' as deed, strftime(month, '%Y-%m') as subject, '' as about, 1 as times,
        abs(differs_cents) as at_stake_cents, 0.5 as sure_share
    from money.cash_proof
    where differs_cents <> 0
    qualify row_number() over (order by month) = 1
),

closes as (
    select
        'close' as deed, strftime(max(month), '%Y-%m') as subject, '' as about,
        count(*) as times, 0 as at_stake_cents, 1.0 as sure_share
    from money.month
    where whole and recorded and not closed
    having count(*) > 0
),

everything as (
    from answers union all by name from receipts union all by name from logs
    union all by name from names union all by name from prices union all by name from losses
    union all by name from tries union all by name from buys union all by name from ages
    union all by name from cash union all by name from closes
)

select
    cast(row_number() over (
        order by at_stake_cents * sure_share desc, at_stake_cents desc, deed, subject, about
    ) as bigint) as position,
    deed, subject, about, cast(times as bigint) as times,
    cast(at_stake_cents as bigint) as at_stake_cents, sure_share,
    cast(price_cents as bigint) as price_cents, cast(ask_cents as bigint) as ask_cents,
    cast(sold_pieces as bigint) as sold_pieces,
    cast(sold_as_high_pieces as bigint) as sold_as_high_pieces,
    -- where hardly any sold as high, a price is no way out by itself (common practice, no source)
    coalesce(sold_pieces >= few() and 20 * sold_as_high_pieces < sold_pieces, false) as seldom_sold
from everything
where at_stake_cents > 0 or deed in ('buy', 'close')
