-- A piece without the slab that it was cut from: the oldest wood of its species is taken for it.
-- @severity warning
select piece, species, started_on from work.piece where lot is null and not opening and blank_mm3 > 0
