-- More came back for something bought than it cost, by a discount or a refund: the rest counts as
-- won, and what was made of it has that material for nothing. Is the discount on the right receipt,
-- is the amount right?
-- @severity warning
with won as (
    select paid_row_id as row_id, item, sum(cents) as won_cents from cost.movement
    -- a draw that comes back has its quantity
    where from_place = 'waste' and to_place = 'stock' and quantity is null
    group by all
)

select row_id, item, won_cents from won where won_cents > 0
