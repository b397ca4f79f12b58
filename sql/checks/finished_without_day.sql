-- A piece that is said to be finished, but not when: it counts as finished nowhere until its row
-- says the day.
-- @severity warning
select row_id, piece, product, started
from records.pieces where status = 'finished' and finished is null
