-- Resin that is past its date, or will be within two months. The product's data sheet decides
-- whether it is still good.
-- @severity warning
select item, lot, bought_on, keeps_to, on_hand_cents from material.stock
where category = 'resin' and shelf_life <> 'keeps'
