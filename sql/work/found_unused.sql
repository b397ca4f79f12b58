-- One row per count that found more than was ever there, and nothing of it has been used since: no
-- receipt is missed for it yet.
-- @key row_id
select row_id from work.found
where beyond > 0 and -draw_id(row_id, 2) not in (
        select flow.lot_id from work.flow
        where flow.use_id not in (select draw_id(row_id, 2) from work.found where lost > 0)
    )
