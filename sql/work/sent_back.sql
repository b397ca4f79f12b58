-- One row per line of goods sent back, with the lot it comes off: the one named, else the item's latest earlier purchase.
-- @key row_id
with back as (select * from work._bought where sent_back),

candidates as (
    select
        back.row_id, bought.row_id as lot_id, abs(coalesce(back.amount, 0)) as amount,
        row_number() over (
            partition by back.row_id
            order by case when bought.lot = back.returns then 0 else 1 end, bought.on_date desc, bought.row_id desc
        ) as place
    from back
    join work._bought as bought
        on bought.item = back.item and not bought.sent_back and (bought.lot = back.returns or bought.on_date <= back.on_date)
)

select row_id, lot_id, cast(amount as bigint) as amount from candidates where place = 1
