-- A pour that names no piece: all of it counts as waste.
-- @severity warning
select pour, on_date, mixed_g, resin_cents from material.pour where pieces = 0
