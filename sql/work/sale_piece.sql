-- One row per sale and piece that it took units of: by its tag or order, else as
-- `work.guessed_sale` has it (assumed).
-- @key row_id, piece
select
    row_id, piece, cast(sum(units) as bigint) as units, min(on_date) as on_date,
    bool_or(assumed) as assumed
from (
    select row_id, piece, units, on_date, assumed from work._tagged
    union all by name
    select row_id, piece, units, on_date, true as assumed from work.guessed_sale
)
group by row_id, piece
