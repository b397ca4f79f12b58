-- One row per product: what one of it usually costs and takes, and how many are usually made at
-- once, over its finished pieces.
-- Usual is the median; low and high are the tenth and the ninetieth part, so that four of five
-- pieces lie between. The hours are of those whose hours are all on record: not of what was there
-- when the records began.
-- @key product
select
    piece.product, count(*) as pieces, cast(sum(quantity) as bigint) as units,
    quantile_disc(unit_cents, 0.5) as usual_unit_cents,
    quantile_disc(unit_cents, 0.1) as low_unit_cents,
    quantile_disc(unit_cents, 0.9) as high_unit_cents,
    quantile_disc(hours / quantity, 0.5)
        filter (where not coalesce(work_piece.opening, false)) as usual_unit_hours,
    cast(quantile_disc(quantity, 0.5) as bigint) as usual_units
from cost.piece as piece
left join work.piece as work_piece on work_piece.piece = piece.piece
where piece.status = 'finished' and piece.product is not null
group by piece.product
