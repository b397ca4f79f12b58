-- One row per piece on offer whose list price leaves less than such a piece costs today: the ones
-- to price anew.
-- What is left is the list price less the fees of the channel where the product mostly sells. A
-- piece whose own hours or material are not on record is held against the middle one of its product
-- (estimated). Beside it stand the least price that leaves today's cost, and one that leaves a
-- margin of 30 % as well (that of a quote where nothing is said), rounded up to the coarsest step
-- that the list price keeps and that is under a twentieth of it. Cost says what a piece must bring,
-- not what buyers pay: of the product's sold pieces it counts those that brought as much.
-- @key piece
-- @check short_cents > 0
-- @check sold_as_high_pieces between 0 and sold_pieces
-- @check covering_price_cents between list_price_cents + 1 and coalesce(suggested_price_cents, covering_price_cents)
with gone as (select piece, arg_max(units_out, number) as units from work.exit group by piece),

offered as (
    select
        history.piece, history.product, history.species, history.finish, history.listed,
        history.list_price_cents
    from price.history as history
    left join gone on gone.piece = history.piece
    where history.list_price_cents is not null and history.quantity > coalesce(gone.units, 0)
),

usual_cost as (
    select product, quantile_disc(today_cents, 0.5) as today_cents
    from price.piece_today group by product
),

usual_channel as (
    select product, mode(channel order by channel) as channel
    from price.history where channel is not null group by product
),

shop_channel as (
    select mode(channel order by channel) as channel from price.history where channel is not null
),

fees as (
    select *
    from price.channel qualify row_number() over (partition by channel order by from_date desc) = 1
),

priced as (
    select
        offered.*, coalesce(usual_channel.channel, shop_channel.channel) as channel,
        coalesce(own.today_cents, usual_cost.today_cents) as today_cents,
        own.today_cents is null as estimated
    from offered
    cross join shop_channel
    left join usual_channel on usual_channel.product = offered.product
    left join price.piece_today as own on own.piece = offered.piece
    left join usual_cost on usual_cost.product = offered.product
),

charged as (
    select
        priced.*, coalesce(fees.share_ppm + fees.payment_share_ppm, 0) as taken_ppm,
        coalesce(fees.fixed_cents + fees.payment_fixed_cents, 0) as taken_cents,
        1000000 - taken_ppm as left_ppm, left_ppm - 300000 as cost_ppm,
        coalesce(list_max(list_filter(
            [10000, 5000, 2500, 1000, 500, 100, 50, 25, 10, 5],
            lambda size: list_price_cents % size = 0 and 20 * size < list_price_cents
        )), 1) as step
    from priced
    left join fees on fees.channel = priced.channel
),

left_over as (
    select
        *, cast(list_price_cents - cut(list_price_cents, taken_ppm, 1000000) - taken_cents as bigint) as left_cents,
        -- rounded up: the least price that leaves so much
        1000000::hugeint * (today_cents + taken_cents) as needed,
        case when left_ppm > 0 then (needed + left_ppm - 1) // left_ppm end as covering,
        case when cost_ppm > 0 then (needed + cost_ppm - 1) // cost_ppm end as wanted
    from charged
),

short as (
    select
        piece, product, species, finish, listed, list_price_cents, channel, left_cents, today_cents,
        cast(today_cents - left_cents as bigint) as short_cents,
        cast((covering + step - 1) // step * step as bigint) as covering_price_cents,
        cast((wanted + step - 1) // step * step as bigint) as suggested_price_cents, estimated
    from left_over
    where today_cents > left_cents
),

paid as (
    select
        product, list(price_cents) as prices
    from price.history where sold is not null and price_cents is not null group by product
)

select
    short.*, coalesce(len(paid.prices), 0) as sold_pieces,
    coalesce(len(list_filter(
        paid.prices,
        lambda price: price >= coalesce(short.suggested_price_cents, short.covering_price_cents)
    )), 0) as sold_as_high_pieces
from short
left join paid on paid.product = short.product
