-- One row per piece or run, with its sizes: those on record, else what is usual for its product and
-- species.
-- Sizes are of the whole run. A blank that is not on record is the finished size and the usual
-- allowance of its species.
-- @key piece
with pieces as (select * from records.pieces),

worked as (
    select bridge.piece, min(hours.on_date) as first_on, max(hours.on_date) as last_on
    from records.hours_piece as bridge
    join records.hours on hours.row_id = bridge.row_id
    group by bridge.piece
),

poured as (
    select piece, min(on_date) as first_on, max(on_date) as last_on
    from records.pours where piece is not null group by piece
),

scrapped as (
    select piece, max(on_date) as on_date from records.inspections
    where action = 'scrap' and quantity is null group by piece
),

sized as (
    select
        pieces.*,
        coalesce(pieces.quantity, 1) as units,
        volume_mm3(length_um, width_um, thickness_um, diameter_um) as each_mm3,
        area_mm2(length_um, width_um, thickness_um, diameter_um) as each_mm2,
        volume_mm3(blank_length_um, blank_width_um, blank_thickness_um, null) as each_blank_mm3
    from pieces
),

usual_size as (
    select
        product, quantile_disc(each_mm3, 0.5) as each_mm3, quantile_disc(each_mm2, 0.5) as each_mm2
    from sized group by product
),

-- the middle one of what blanks are to what came of them: its own two volumes, so that nothing is
-- rounded twice
ratios as (
    select
        species, each_blank_mm3, each_mm3,
        cast(each_blank_mm3 as hugeint) * 1000000000000 // each_mm3 as ratio, piece
    -- a blank fifty times as large as what came of it is no habit but a slip
    from sized where each_blank_mm3 > 0 and each_mm3 > 0 and each_blank_mm3 <= 50 * each_mm3
),

allowance as (
    select species, each_blank_mm3 as blank_mm3, each_mm3 as mm3 from ratios
    qualify row_number() over (partition by species order by ratio, piece)
        = (count(*) over (partition by species) + 1) // 2
),

shop_allowance as (
    select each_blank_mm3 as blank_mm3, each_mm3 as mm3 from ratios
    qualify row_number() over (order by ratio, piece) = (count(*) over () + 1) // 2
),

filled as (
    select
        sized.*,
        coalesce(sized.each_mm3, usual_size.each_mm3) as some_mm3,
        coalesce(sized.each_mm2, usual_size.each_mm2) as some_mm2,
        coalesce(allowance.blank_mm3, shop_allowance.blank_mm3, 1) as allowance_blank_mm3,
        coalesce(allowance.mm3, shop_allowance.mm3, 1) as allowance_mm3
    from sized
    left join usual_size on usual_size.product = sized.product
    left join allowance on allowance.species = sized.species
    left join shop_allowance on true
)

select
    filled.piece, filled.row_id, filled.product, filled.species, filled.finish, filled.units,
    filled.lot, filled.order_no,
    case when filled.status is not null then filled.status
         when scrapped.piece is not null then 'scrapped'
         when filled.finished is not null then 'finished'
         else 'in progress' end as status,
    coalesce(
        filled.started, least(worked.first_on, poured.first_on), filled.finished, shop.start
    ) as started_on,
    filled.finished as finished_on,
    case when scrapped.piece is not null
             or filled.status in ('scrapped', 'test', 'gift', 'kept', 'lost')
         then coalesce(
             filled.ended, scrapped.on_date, filled.finished,
             greatest(worked.last_on, poured.last_on), filled.started, shop.start
         ) end as ended_on,
    filled.listed as listed_on,
    filled.each_mm3 * filled.units as finished_mm3,
    filled.some_mm3 * filled.units as volume_mm3,
    filled.some_mm2 * filled.units as area_mm2,
    filled.units * coalesce(
        filled.each_blank_mm3,
        cut(filled.some_mm3, filled.allowance_blank_mm3, filled.allowance_mm3)
    ) as blank_mm3,
    filled.each_blank_mm3 is null as blank_estimated,
    filled.opening_cost_cents is not null as opening
from filled
cross join settings.shop as shop
left join worked on worked.piece = filled.piece
left join poured on poured.piece = filled.piece
left join scrapped on scrapped.piece = filled.piece
