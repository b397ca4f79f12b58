-- One row per movement of cents but those that are told by other tables: what pools give to work on
-- a piece, and what leaves a piece when units of it do (cost.trace has all). On this day, because of
-- this record, paid for by that one, from one place to another. Cents are never negative: what goes
-- back is a movement the other way.
-- What is free still moves, with its quantity. A receipt from before the records begin, of what was
-- counted then, goes back to the settings: what was left of it comes from there.
-- @check cents >= 0
-- @check from_place <> to_place
with gone_back as (
    select lot_id, sum(amount) as amount
    from cost._sent_back where lot_id is not null group by lot_id
),

bought as (
    select
        landed.*, item.unit, lot.quantity + coalesce(gone_back.amount, 0) as held, lot.lot_id,
        billed.source as pool_source, billed.pool as pool_name,
        coalesce(billed.assumed, false) or coalesce(lot.uncounted, false) as assumed,
        case when billed.source = 'receipts' then billed.pool end as pooled,
        case when billed.source = 'receipts' then billed.kind end as pool_kind
    from cost._landed as landed
    left join work.item on item.item = landed.item
    left join work.lot on lot.lot_id = landed.row_id
    left join gone_back on gone_back.lot_id = landed.row_id
    left join cost._billed as billed on billed.row_id = landed.row_id
),

-- a receipt written up late counts from the day of the first draw that it covers
first_draw as (select lot_id, min(on_date) as on_date from cost._draw group by lot_id),

receipts as (
    select
        least(bought.on_date, first_draw.on_date) as on_date, bought.row_id,
        coalesce(sent_back.lot_id, bought.row_id) as paid_row_id, 'receipt' as from_place,
        case when in_count.row_id is not null then 'setting'
             when bought.category = 'equipment' then 'asset'
             when bought.category in ('tool', 'overhead') and bought.pooled is not null then 'pool'
             -- the pool's cost is its monthly amount, so the bill only pays for it
             when bought.category in ('tool', 'overhead')
                 and bought.pool_source = 'amount' then 'setting'
             when bought.category in ('tool', 'overhead') then 'period'
             when bought.category = 'selling' and bought.event is not null then 'pool'
             when bought.category = 'selling' then 'period'
             -- more went back than was ever bought
             when sent_back.row_id is not null and sent_back.lot_id is null then 'waste'
             else 'stock' end as to_place,
        case when bought.category = 'equipment' then 'machine'
             when bought.pool_kind = 'machine' then 'machine'
             when bought.category = 'tool' and bought.machine is not null then 'machine'
             when bought.category = 'tool' then 'overhead'
             else bought.category end as layer,
        layer as origin, bought.lot,
        case when bought.category = 'selling' then coalesce(bought.event, bought.item)
             when bought.category in ('tool', 'overhead') then coalesce(bought.pool_name, bought.item)
             when bought.category = 'equipment' then coalesce(bought.machine, bought.item)
             else bought.item end as item,
        coalesce(sent_back.cents, bought.cents) as cents,
        case when sent_back.row_id is not null then -sent_back.amount
             else bought.held end as quantity,
        bought.unit, bought.assumed
    from bought
    left join cost._sent_back as sent_back on sent_back.row_id = bought.row_id
    left join first_draw on first_draw.lot_id = bought.row_id
    left join work.in_count on in_count.row_id = bought.row_id
),

opening_stock as (
    select
        lot.on_date, lot.lot_id as row_id, lot.lot_id as paid_row_id,
        'setting' as from_place, 'stock' as to_place, lot.category as layer, lot.category as origin,
        lot.lot, lot.item, counts.worth_cents as cents,
        lot.quantity + coalesce(gone_back.amount, 0) as quantity, lot.unit
    from work.lot
    join records.counts on counts.row_id = lot.lot_id
    left join gone_back on gone_back.lot_id = lot.lot_id
    where lot.opening
),

imputed_stock as (
    select
        coalesce(missing.on_date, lot.on_date) as on_date, row_of_draw(-lot.lot_id) as row_id,
        coalesce(lot.paid_row_id, lot.lot_id) as paid_row_id,
        'imputed' as from_place, 'stock' as to_place, lot.category as layer, lot.category as origin,
        lot.lot, lot.item, lot.cents, lot.quantity, lot.unit, true as estimated
    from cost._lot as lot
    left join work.missing on -missing.ref = lot.lot_id
    where lot.imputed
),

into_pieces as (
    select *, 'piece' as to_place from cost._piece_direct where not rework
    union all by name
    select * exclude (lost_cents), 'piece' as to_place from cost._rework
    union all by name
    select
        on_date, row_id, row_id as paid_row_id, 'pool' as from_place, 'piece' as to_place, layer,
        origin, piece, 'spoilage' as item, cents
    from cost._spoilage where place = 'piece'
),

-- what was saved beyond what was scrapped in its month lessens the losses
pooled_pieces as (
    select piece, month, origin, sum(cents) as cents
    from (
        select
            piece, month_of(on_date) as month, origin,
            case when to_place = 'pool' then cents else -cents end as cents
        from cost.piece_left where 'pool' in (from_place, to_place)
        union all by name
        select piece, month, origin, -cents as cents from cost._spoiled
    )
    group by piece, month, origin
),

spoilage_cut as (
    select
        last_day(pooled_pieces.month) as on_date, piece.row_id, piece.row_id as paid_row_id,
        'pool' as from_place, 'waste' as to_place, 'spoilage' as layer, pooled_pieces.origin,
        piece.piece, 'spoilage' as item, pooled_pieces.cents
    from pooled_pieces
    join work.piece on piece.piece = pooled_pieces.piece
    where pooled_pieces.cents <> 0
),

spoilage_lost as (
    select
        on_date, row_id, row_id as paid_row_id, 'pool' as from_place, place as to_place,
        layer, origin, piece, 'spoilage' as item, cents
    from cost._spoilage where place <> 'piece'
),

-- what of the mending was more than is normal
rework_lost as (
    select
        * exclude (cents, lost_cents, quantity), 'waste' as to_place, lost_cents as cents,
        0 as quantity
    from cost._rework where lost_cents <> 0
),

stock_elsewhere as (
    select
        on_date, row_id, paid_row_id, 'stock' as from_place, place as to_place, layer, origin,
        piece, lot, item, cents, quantity, unit, rework, assumed, estimated
    from cost._material where place <> 'piece'
    union all by name
    select
        on_date, row_id, paid_row_id, 'stock' as from_place, 'waste' as to_place,
        'offcut' as layer, 'wood' as origin, lot, item, cents, quantity, 'mm3' as unit
    from cost._offcut where place = 'waste'
    union all by name
    select
        on_date, row_id, lot_id as paid_row_id, 'stock' as from_place, 'waste' as to_place,
        category as layer, category as origin, lot, item, cents, unit
    from cost._emptied
),

labour_elsewhere as (
    select
        on_date, row_id, paid_row_id, 'labour' as from_place, place as to_place,
        'labour' as layer, origin, operation, piece, pool as item, cents,
        seconds as quantity, 's' as unit, rework, assumed
    from cost._labour where place in ('period', 'pool')
),

assets as (
    select
        on_date, row_id, row_id as paid_row_id, 'setting' as from_place, 'asset' as to_place,
        'machine' as layer, 'machine' as origin, machine as item, cents
    from cost._asset where from_place = 'setting'
),

into_pools as (
    select
        on_date, row_id, paid_row_id, from_place, 'pool' as to_place, layer, origin, pool as item,
        cents
    from cost._pool_in where from_place in ('setting', 'asset')
    union all by name
    select
        on_date, row_id, row_id as paid_row_id, 'setting' as from_place, 'pool' as to_place,
        'selling' as layer, 'selling' as origin, event as item, cents
    from cost._event_fee where from_place = 'setting'
),

pool_months as (
    select pool, layer, origin, month, sum(cents) as cents
    from (
        select pool, layer, origin, month, cents from cost._pool_in
        union all by name
        select pool, layer, origin, month, -cents as cents from cost._applied
    )
    group by pool, layer, origin, month
),

not_absorbed as (
    select
        month.last_on as on_date, rate.row_id, rate.row_id as paid_row_id, 'pool' as from_place,
        'period' as to_place, pool_months.layer, pool_months.origin, pool_months.pool as item,
        pool_months.cents
    from pool_months
    join work.month on month.month = pool_months.month
    join cost.pool_rate as rate on rate.pool = pool_months.pool and rate.month = pool_months.month
),

selling as (
    select
        on_date, row_id, paid_row_id, from_place, 'sold' as to_place, 'selling' as layer,
        'selling' as origin, operation, piece, event as item, cents, estimated
    from cost._selling
),

empty_events as (
    select
        greatest(fee.on_date, coalesce(event.day, fee.on_date)) as on_date,
        fee.row_id, fee.row_id as paid_row_id,
        'pool' as from_place, 'period' as to_place, 'selling' as layer, 'selling' as origin,
        'booth fee' as operation, fee.event as item, fee.cents
    from cost._event_fee as fee
    asof left join (
        select distinct upper(replace(name, ' ', '')) as name, day
        from settings.event where day is not null
    ) as event on event.name = fee.event and event.day >= fee.on_date
    where fee.event not in (select event from cost._selling where operation = 'booth fee')
),

unmatched_sales as (
    select
        on_date, row_id, row_id as paid_row_id, 'imputed' as from_place, 'sold' as to_place,
        layer, origin, cents, true as estimated
    from cost._unmatched
),

movements as (
    select * from receipts
    union all by name select * from opening_stock
    union all by name select * from imputed_stock
    union all by name select * from into_pieces
    union all by name select * from spoilage_lost
    union all by name select * from spoilage_cut
    union all by name select * from rework_lost
    union all by name select * from stock_elsewhere
    union all by name select * from labour_elsewhere
    union all by name select * from assets
    union all by name select * from into_pools
    union all by name select * from not_absorbed
    union all by name select * from selling
    union all by name select * from empty_events
    union all by name select * from unmatched_sales
)

select
    on_date, row_id, paid_row_id,
    case when cents < 0 then to_place else from_place end as from_place,
    case when cents < 0 then from_place else to_place end as to_place,
    layer, origin, operation, piece, lot, item, cast(abs(cents) as bigint) as cents,
    cast(case when cents < 0 then -quantity else quantity end as bigint) as quantity, unit,
    coalesce(rework, false) as rework,
    coalesce(assumed, false)
    or row_id in (select row_id from work.open_row)
    or paid_row_id in (select row_id from work.open_row) as assumed,
    coalesce(estimated, false) as estimated
from movements
where cents <> 0 or quantity <> 0
