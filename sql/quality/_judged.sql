-- One row per piece that has been judged: whether it came back to the bench or was scrapped, with
-- all that may have caused it.
-- Without what it cost: so the estimates, which take long, can begin before any cost is known. A
-- piece is judged once it is finished or ended; one that was finished before the records begin left
-- none of it there. It passes first time if no inspection of it says rework or scrap and no hours
-- on it are rework. A practice is known only where its reading is on record; a pour that mends, or
-- comes after the sale, is no cause of what it mends. Three in four findings come within
-- `finding_days` of the finished piece, by five findings at least: what is `young`er than that on
-- the last day of pieces and inspections may still come back.
-- @key piece
with looks as (
    select
        piece, bool_or(action = 'rework') as reworked, bool_or(action = 'scrap') as scrapped,
        min(on_date) filter (where action in ('rework', 'scrap')) as found_on, max(on_date) as last_on,
        count(*) filter (where defect is not null and defect <> 'none') as defects
    from records.inspections where piece is not null group by piece
),

poured as (
    select
        piece.piece, pour.coat, pour.purpose, pour.on_date,
        abs(pour.mix_ppm - 1000000) > rule.mix_tolerance_ppm as off_ratio,
        pour.stir_seconds < rule.stir_minutes * 60 as short_stir,
        pour.cured_seconds < rule.cure_hours * 3600 as early_touch,
        pour.temperature_c < rule.cold_c as cold, pour.humidity_pct > rule.damp_pct as damp,
        -- the pour that failed may be of the very day on which that was seen
        coalesce(pour.purpose = 'repour', false) or coalesce(piece.after_sale, false) or exists (
            select 1 from work.rework_window as again
            where again.piece = piece.piece and again.from_on < pour.on_date
                and (again.to_on is null or pour.on_date <= again.to_on)
        ) as mends
    from work.pour_piece as piece
    join work.pour on pour.pour = piece.pour
    asof left join settings.rule on rule.from_date <= pour.on_date
),

repoured as (
    select piece, min(on_date) as found_on from poured where purpose = 'repour' group by piece
),

pours as (
    select
        piece, max(coat) as coat, bool_or(off_ratio) as off_ratio,
        bool_or(short_stir) as short_stir, bool_or(early_touch) as early_touch,
        bool_or(cold) as cold, bool_or(damp) as damp,
        bool_or(purpose = 'flood') and not bool_or(purpose = 'seal') as unsealed
    from poured where not mends
    group by piece
),

mended as (
    select piece, min(on_date) as found_on
    from work.hours_piece where rework and not after_sale group by piece having sum(seconds) > 0
),

done as (
    select
        piece.piece, coalesce(piece.finished_on, piece.ended_on) as done_on,
        least(looks.found_on, repoured.found_on, mended.found_on) as found_on
    from work.piece
    left join looks on looks.piece = piece.piece
    left join repoured on repoured.piece = piece.piece
    left join mended on mended.piece = piece.piece
    where piece.finished_on is not null or piece.ended_on is not null
),

finding as (
    select
        case when count(found_on) >= 5
             then quantile_disc(greatest(found_on - done_on, 0), 0.75) else 0 end as days,
        greatest(max(done_on), (select max(last_on) from looks)) as last_on
    from done
),

slabs as (
    select lot, max(moisture_pct) as moisture_pct, min(supplier) as supplier
    from records.purchases where lot is not null and category = 'wood' group by lot
)

select
    piece.piece, piece.product, piece.species, piece.finish, species.pore_structure, pours.coat,
    month_of(coalesce(piece.finished_on, piece.ended_on)) as month, slabs.supplier, piece.lot,
    -- what was begun on one day as one product was made in one go, and may fail together
    piece.product || ' ' || piece.started_on as run,
    pours.off_ratio, pours.short_stir, pours.early_touch, pours.cold, pours.damp,
    slabs.moisture_pct > rule.wet_wood_pct as wet_wood, pours.unsealed,
    coalesce(looks.reworked, false) or repoured.piece is not null or mended.piece is not null
        as reworked,
    coalesce(looks.scrapped, false) or piece.status = 'scrapped' as scrapped,
    coalesce(looks.defects, 0) as defects, finding.days as finding_days,
    finding.last_on - done.done_on < finding.days as young
from work.piece
join done on done.piece = piece.piece
cross join finding
cross join settings.shop
asof left join settings.rule on rule.from_date <= piece.started_on
left join looks on looks.piece = piece.piece
left join pours on pours.piece = piece.piece
left join repoured on repoured.piece = piece.piece
left join settings.species on species.species = piece.species
left join mended on mended.piece = piece.piece
left join slabs on slabs.lot = piece.lot
where not coalesce(piece.opening and piece.finished_on < shop.start, false)
