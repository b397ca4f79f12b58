-- Bench hours that name no piece: they are a cost of the month, not of what was made.
-- @severity warning
select movement.operation, count(*) as records, sum(movement.cents) as cents
from cost.movement
join work.hours on hours.row_id = movement.row_id and hours.kind = 'bench'
where movement.from_place = 'labour' and movement.to_place = 'period' and movement.piece is null
group by movement.operation
