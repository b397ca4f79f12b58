-- One row per month, record, piece and line of its result, with its place and layer: the sums of
-- money.line.
-- @view
select month, line, place, layer, row_id, piece, own_labour, cents from money._line_sum
union all by name
select month, line, '' as place, '' as layer, row_id, piece, own_labour, cents
from money._beside_line
