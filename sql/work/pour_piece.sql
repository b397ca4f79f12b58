-- One row per pour and piece: the grams deposited on it, those trimmed off again, and its share of
-- the pour's waste. Pieces without a deposit of their own share what is left by surface, equally,
-- by units, where no size is known.
-- @key pour, piece
with named as (
    select
        pours.pour, pours.piece, min(pours.row_id) as row_id,
        sum(in_base(
            pours.deposited, pours.deposited_unit, 'mg', item.density_ug_per_ul, item.kit_ul
        )) as deposited_mg,
        coalesce(sum(in_base(
            pours.trimmed, pours.trimmed_unit, 'mg', item.density_ug_per_ul, item.kit_ul
        )), 0) as trimmed_mg
    from records.pours
    left join work.pour_resin as took on took.pour = pours.pour
    left join work.item on item.item = took.resin
    where pours.piece is not null
    group by pours.pour, pours.piece
),

weighed as (
    select
        named.*, pour.deposited_mg as all_mg, pour.on_date, pour.purpose,
        coalesce(sum(named.deposited_mg) over (partition by named.pour), 0) as named_mg,
        case when named.deposited_mg is not null then 0
             when min(coalesce(piece.area_mm2, 0)) filter (where named.deposited_mg is null)
                 over (partition by named.pour) = 0 then piece.units
             when pour.purpose in ('flood', 'seal', 'repour') then piece.area_mm2
             else piece.units end as weight
    from named
    join work.pour on pour.pour = named.pour
    join work.piece on piece.piece = named.piece
),

running as (
    select
        *,
        sum(weight) over (partition by pour order by piece) as to_weight,
        greatest(sum(weight) over (partition by pour), 1) as all_weight
    from weighed
),

settled as (
    select
        pour, piece, row_id, on_date, purpose, trimmed_mg, deposited_mg is null as estimated,
        coalesce(
            deposited_mg, share(all_mg - named_mg, to_weight - weight, to_weight, all_weight)
        ) as deposited_mg
    from running
)

select
    settled.pour, settled.piece, settled.row_id, settled.on_date,
    cast(settled.deposited_mg as bigint) as deposited_mg,
    cast(least(settled.trimmed_mg, settled.deposited_mg) as bigint) as trimmed_mg,
    cast(
        settled.deposited_mg - least(settled.trimmed_mg, settled.deposited_mg) as bigint
    ) as good_mg,
    settled.estimated,
    coalesce(settled.purpose = 'repour', false) or exists (
        select 1 from work.rework_window as again
        where again.piece = settled.piece and again.from_on <= settled.on_date
            and (again.to_on is null or settled.on_date <= again.to_on)
    ) as rework,
    exists(
        select 1 from work.out
        where out.piece = settled.piece and out.from_on < settled.on_date
            and (out.to_on is null or settled.on_date <= out.to_on)
    ) as after_sale
from settled
