-- One row per lot that went back whole, or for which more came back than it cost, by a discount
-- larger than its price or by a refund. What it cost beyond what came back is lost on the day that
-- the last of it went; what came back beyond what it cost is won, so that no lot costs less than
-- nothing, nor what is made of it.
-- @key lot_id
with back as (
    select
        lot_id, max(on_date) as on_date, max_by(row_id, (on_date, amount, cents, row_id)) as row_id,
        sum(cents) as cents
    from cost._sent_back where lot_id is not null
    group by lot_id
),

lots as (
    select
        lot.*, back.lot_id is not null as any_back, back.row_id as back_id,
        greatest(back.on_date, lot.on_date) as until,
        case when lot.opening then opening.worth_cents
             else landed.cents end + coalesce(back.cents, 0) as cents
    from work.lot
    left join back on back.lot_id = lot.lot_id
    left join cost._landed as landed on landed.row_id = lot.lot_id
    left join records.counts as opening on opening.row_id = lot.lot_id
    where lot.saved_from is null
)

select
    lot_id, coalesce(until, on_date) as on_date, coalesce(back_id, lot_id) as row_id, item, lot,
    category, unit,
    cast(cents as bigint) as cents
from lots
where any_back and quantity = 0 or cents < 0
