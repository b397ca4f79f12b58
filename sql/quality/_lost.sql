-- One row per piece of which units were scrapped at the bench: what was lost with them, and what of
-- it rework had cost.
-- Scrap takes with it what had gone into its units; what was sold before is not lost. What came
-- back from a buyer is no scrap of the bench.
-- @key piece
with scraps as (
    select piece, row_id from work.exit
    where kind = 'scrapped' and row_id not in (select row_id from records.sales)
    group by piece, row_id
)

select
    moved.piece, cast(sum(moved.cents) as bigint) as cents,
    cast(coalesce(sum(moved.cents) filter (where moved.rework), 0) as bigint) as rework_cents
from cost.moved
join scraps on scraps.piece = moved.piece and scraps.row_id = moved.row_id
where moved.from_place = 'piece' and moved.to_place in ('pool', 'waste')
group by moved.piece
