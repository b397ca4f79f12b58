-- A purchase of none of something, at a price: nothing can be drawn from it, so what it cost stays
-- on the shelf. Write how much it was.
-- @severity warning
select row_id, item, amount_cents as cents
from records.purchases
where quantity = 0 and amount_cents > 0
    and category in (
        'resin', 'colourant', 'abrasive', 'finish', 'hardware', 'consumable', 'packaging'
    )
