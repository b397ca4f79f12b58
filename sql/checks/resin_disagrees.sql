-- What was bought, counted, mixed and weighed of a resin between two counts can't all be right: see
-- the figures named.
-- @severity warning
select item, from_on, to_on, chance, suspects from material.reconciled_stretch where not agrees
