-- One row per pour whose parts nobody weighed: what it takes by its purpose and the size of its
-- pieces, in milligrams.
-- The middle one of weighed pours of that purpose by surface, of a casting by volume, times its own
-- pieces' size; by unit where a size is unknown. Three weighed pours of its product say it, else
-- those of all products do, to which fewer are drawn. A pour that names what it deposited on each
-- piece took that and its rests.
-- @key pour
with mixes as (select * from work._pour_mix),

sized as (
    select
        pours.pour, any_value(pours.purpose) as purpose,
        case when min(piece.product) = max(piece.product) then min(piece.product) end as product,
        sum(piece.units) as units,
        case when count(nullif(piece.area_mm2, 0)) = count(*) then sum(
            case when pours.purpose = 'casting' then piece.volume_mm3 else piece.area_mm2 end
        ) end as size
    from (select distinct pour, purpose, piece from records.pours) as pours
    join work.piece on piece.piece = pours.piece
    group by pours.pour
),

rates as (
    select
        mixes.pour, sized.product, coalesce(mixes.purpose, '') as purpose,
        cast(mixes.part_a_mg + mixes.part_b_mg as hugeint) * 1000000 // nullif(sized.size, 0)
            as by_size,
        cast(mixes.part_a_mg + mixes.part_b_mg as hugeint) * 1000000 // sized.units as by_unit
    from mixes
    join sized on sized.pour = mixes.pour
    where mixes.part_a_mg + mixes.part_b_mg > 0
),

middle as (
    select
        purpose, case when grouping(product) = 0 then product end as product,
        grouping(product) = 1 as every, count(*) as pours,
        quantile_disc(by_size, 0.5) as by_size, quantile_disc(by_unit, 0.5) as by_unit
    from rates group by grouping sets ((purpose, product), (purpose))
),

told as (
    select
        mixes.pour, sized.size, sized.units, mixes.pieces_without_deposit, mixes.named_deposit_mg,
        coalesce(mixes.left_in_cup_mg, 0) + coalesce(mixes.spilled_mg, 0) as rest_mg,
        case when own.pours >= 3 then own.by_size
             else drawn_to(own.by_size, own.pours, every.by_size, 4) end as by_size,
        case when own.pours >= 3 then own.by_unit
             else drawn_to(own.by_unit, own.pours, every.by_unit, 4) end as by_unit
    from mixes
    left join sized on sized.pour = mixes.pour
    left join middle as own
        on not own.every and own.purpose = coalesce(mixes.purpose, '')
        and own.product = sized.product
    left join middle as every on every.every and every.purpose = coalesce(mixes.purpose, '')
    where mixes.unweighed
),

usual as (
    select
        pour,
        case when pieces_without_deposit = 0 and named_deposit_mg > 0
             then named_deposit_mg + rest_mg
             when by_size is not null and size > 0 then cut(by_size, size, 1000000)
             else cut(by_unit, units, 1000000) end as resin_mg,
        coalesce(named_deposit_mg, 0) + rest_mg as least_mg
    from told
)

-- no less than what is known of it
select pour, cast(greatest(resin_mg, least_mg) as bigint) as resin_mg
from usual where greatest(resin_mg, least_mg) > 0
