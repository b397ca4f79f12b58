-- A movement between places that the books don't have.
-- @severity error
with places as (
    select unnest([
        'receipt', 'labour', 'setting', 'imputed', 'fee', 'asset', 'pool', 'stock', 'piece',
        'sold', 'own use', 'waste', 'period'
    ]) as place
)

select from_place, to_place, count(*) as movements from cost.moved
where coalesce(from_place, '') not in (select place from places)
    or coalesce(to_place, '') not in (select place from places)
group by from_place, to_place
