-- One row per pour with the size of what it was poured on, and what good resin it left there.
-- The size is the top face of its pieces (length x width, or the disc) and their body (top x
-- thickness), of whole runs, from the finished sizes on record; a piece without them has the middle
-- one of its product. A river or an inlay has no size on record: its resin is spread over the whole
-- top (as a thickness) or through the whole body (as a share of it).
-- @key pour
with sizes as (
    select
        piece, product, coalesce(quantity, 1) as units,
        case when diameter_um is not null
             then cast(diameter_um as hugeint) * diameter_um // 1000000 * 785398163 // 1000000000
             else cast(length_um as hugeint) * width_um // 1000000 end as top_mm2,
        volume_mm3(length_um, width_um, thickness_um, diameter_um) as body_mm3
    from records.pieces
),

usual as (
    select product, quantile_disc(top_mm2, 0.5) as top_mm2, quantile_disc(body_mm3, 0.5) as body_mm3
    from sizes group by product
),

pieces as (
    select
        sizes.piece, sizes.product, coalesce(sizes.top_mm2, usual.top_mm2) * sizes.units as top_mm2,
        coalesce(sizes.body_mm3, usual.body_mm3) * sizes.units as body_mm3,
        sizes.top_mm2 is null or sizes.body_mm3 is null as estimated
    from sizes
    join usual on usual.product = sizes.product
),

tops as (
    select
        pour_piece.pour,
        case when min(pieces.product) = max(pieces.product) then min(pieces.product) end as product,
        -- a pour of which one piece has no size at all has none
        case when count(pieces.top_mm2) = count(*) then sum(pieces.top_mm2) end as top_mm2,
        case when count(pieces.body_mm3) = count(*) then sum(pieces.body_mm3) end as body_mm3,
        bool_or(pieces.estimated) as estimated
    from work.pour_piece
    join pieces on pieces.piece = pour_piece.piece
    group by pour_piece.pour
)

select
    pour.pour, pour.row_id, pour.on_date, pour.purpose, pour.coat, pour.resin, pour.pieces,
    tops.product, item.density_ug_per_ul as density, cast(tops.top_mm2 as bigint) as top_mm2,
    cast(tops.body_mm3 as bigint) as body_mm3, coalesce(tops.estimated, true) as size_estimated,
    pour.mixed_mg, pour.mix_estimated, pour.deposited_mg, pour.good_mg,
    pour.pieces > 0 and not pour.estimated and pour.mixed_mg > 0 as weighed,
    case when item.density_ug_per_ul > 0
         then pour.good_mg * 1000.0 / item.density_ug_per_ul end as good_mm3
from work.pour
left join work.item on item.item = pour.resin
left join tops on tops.pour = pour.pour
