-- One row per stretch of work and piece: the piece's share of its seconds, as logged or as taken to
-- be (assumed). What is left of a stretch that names no piece is in none of these rows.
-- @key row_id, piece
select row_id, piece, on_date, seconds, weight, shared_by, rework, after_sale, false as assumed
from work._logged
union all by name
select
    row_id, piece, on_date, seconds, seconds as weight, 'need' as shared_by, false as rework,
    false as after_sale, true as assumed
from work._covered
