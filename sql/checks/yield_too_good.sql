-- More finished wood than was bought or cut: a size, a unit or the number of pieces is wrong.
-- @severity warning
select lot_id, lot, species, bought_dm3, blank_dm3, finished_dm3 from material.wood_yield
where yield_share > 1 or shaped_dm3 < -0.001
