-- A slab that was bought over six months ago and never cut.
-- @severity warning
select lot.lot, lot.species, lot.bought_on, lot.landed_cents from cost.lot
where lot.category = 'wood' and lot.used = 0 and lot.landed_cents > 0 and lot.bought_on < (select max(last_on) from work.month) - 183
