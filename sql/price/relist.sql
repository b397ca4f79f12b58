-- One row per piece on offer whose list price leaves less than such a piece costs today: the ones
-- to price anew.
-- What is left is the list price less the fees of the channel where the product mostly sells. A
-- piece whose own hours or material are not on record is held against the middle one of its product
-- (estimated).
-- @key piece
-- @check short_cents > 0
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

left_over as (
    select
        priced.*,
        cast(list_price_cents
            - cut(list_price_cents, coalesce(fees.share_ppm + fees.payment_share_ppm, 0), 1000000)
            - coalesce(fees.fixed_cents + fees.payment_fixed_cents, 0) as bigint) as left_cents
    from priced
    left join fees on fees.channel = priced.channel
)

select
    piece, product, species, finish, listed, list_price_cents, channel, left_cents, today_cents,
    cast(today_cents - left_cents as bigint) as short_cents, estimated
from left_over
where today_cents > left_cents
