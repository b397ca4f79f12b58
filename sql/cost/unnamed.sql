-- One row per month and operation of work at the bench whose hours name no piece: how many stretches
-- and their pay, a cost of the month alone until the hours name the pieces.
-- @view
select
    month_of(movement.on_date) as month, movement.operation, count(*) as records,
    cast(sum(movement.cents) as bigint) as cents
from cost.movement as movement
join work.hours as hours on hours.row_id = movement.row_id and hours.kind = 'bench'
where movement.from_place = 'labour' and movement.to_place = 'period' and movement.piece is null
group by month_of(movement.on_date), movement.operation
