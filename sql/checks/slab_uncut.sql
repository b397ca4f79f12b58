-- Wood that has lain for over six months and was never cut.
-- @severity warning
select lot.lot, lot.species, lot.bought_on, lot.landed_cents from cost.lot
where lot.category = 'wood' and lot.used = 0 and lot.on_hand > 0 and lot.landed_cents > 0
    and lot.bought_on < (select max(last_on) from work.month) - 183
