-- Bench hours that name no piece: they are a cost of the month, not of what was made.
-- @severity warning
select trace.operation, count(*) as records, sum(trace.cents) as cents
from cost.trace
join work.hours on hours.row_id = trace.row_id and hours.kind = 'bench'
where trace.from_place = 'labour' and trace.to_place = 'period' and trace.piece is null
group by trace.operation
