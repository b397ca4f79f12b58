-- Bench hours that name no piece: they are a cost of the month, not of what was made.
-- @severity warning
select operation, count(*) as records, sum(cents) as cents from cost.trace
where from_place = 'labour' and to_place = 'period' and piece is null
    and operation not in (select name from settings.operation where kind <> 'bench')
group by operation
