-- A movement between places that the books don't have.
-- @severity error
select from_place, to_place, count(*) as movements from cost.trace
where from_place not in ('receipt', 'labour', 'setting', 'imputed', 'fee', 'asset', 'pool', 'stock', 'piece', 'sold', 'own use', 'waste', 'period')
    or to_place not in ('receipt', 'labour', 'setting', 'imputed', 'fee', 'asset', 'pool', 'stock', 'piece', 'sold', 'own use', 'waste', 'period')
group by from_place, to_place
