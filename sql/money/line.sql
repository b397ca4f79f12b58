-- One row per record and line of its month's result: cents as they change it, so what is sold is
-- positive and what it cost negative.
-- The sum over a month is its result with own pay; without the rows of `own_labour` it is what the
-- books say. `place` is the place in the trace that the cents reached. Lines of closed months stand
-- as they are now, not as they were closed.
-- @view
select * from money._plain_line
union all by name
select *, '' as place, '' as layer, row_id as paid_row_id from money._beside_line
