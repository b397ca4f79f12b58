-- One row per cost that enters a piece before spoilage, with the record that caused it and the one
-- that paid for it.
-- @view
select * from cost._piece_cost where not rework
union all by name
select * exclude (lost_cents) from cost._rework
