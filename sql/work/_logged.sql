-- One row per stretch of bench work and piece that it names: the piece's share of its seconds. Shop
-- and selling work is a cost of its pool or month, whatever it names.
-- Shared by surface for sanding and finishing, by blank volume for sawing and surfacing, else
-- equally, by units, as where no size is known.
-- @key row_id, piece
with weighed as (
    select
        hours.row_id, hours.on_date, hours.seconds, hours.rework, hours.driver, bridge.piece,
        piece.units,
        coalesce(case hours.driver
            when 'area' then piece.area_mm2
            when 'volume' then piece.blank_mm3
            else piece.units end, 0) as weight
    from records.hours_piece as bridge
    join work.hours on hours.row_id = bridge.row_id
    join work.piece on piece.piece = bridge.piece
    where hours.kind = 'bench'
),

balanced as (
    select
        *, sum(weight) over (partition by row_id) = 0 as weightless,
        case when weightless then units else weight end as share_weight,
        case when weightless then 'equal' else driver end as shared_by
    from weighed
),

running as (
    select
        *,
        sum(share_weight) over (partition by row_id order by piece) as to_weight,
        sum(share_weight) over (partition by row_id) as all_weight
    from balanced
)

select
    running.row_id, running.piece, running.on_date,
    share(seconds, to_weight - share_weight, to_weight, all_weight) as seconds,
    cast(share_weight as bigint) as weight, running.shared_by,
    running.rework,
    exists(
        select 1 from work.out
        where out.piece = running.piece and out.from_on < running.on_date
            and (out.to_on is null or running.on_date <= out.to_on)
    ) as after_sale
from running
