-- What was bought, counted, mixed and weighed of a resin between two counts can't all be right: see
-- the figures named. Of one that was bought by the kit nothing can be said while the kit's size is
-- not known.
-- @severity warning
select item, from_on, to_on, chance, suspects from material.reconciled_stretch
where not agrees and 'unmeasured/' || item not in (select flow from work.lot)
