-- One row per lot of resin, draw on it and stretch: what became of what it gave, in the unit that
-- the item is kept in.
-- A draw's parts by fate are cut from the pour's own: good, trimmed, left in cup, spilled; the rest
-- is unexplained. Of what is good, the part in units that were scrapped or lost since, or were
-- tests, is apart, and of the rest what re-pours put on. What a count found short (below zero: found
-- again), and resin taken without a pour, are fates of their own.
-- @key lot_id, use_id, from_quantity
with resins as (select item, unit from work.item where category = 'resin' and unit in ('mg', 'ul')),

deposits as (
    select
        pour_piece.pour, pour_piece.rework, pour_piece.good_mg,
        cut(
            pour_piece.good_mg, coalesce(unsound.units, 0), coalesce(unsound.all_units, 1)
        ) as scrapped_mg
    from work.pour_piece
    left join work.unsound on unsound.piece = pour_piece.piece
),

good as (
    select
        pour, sum(good_mg) as good_mg, sum(scrapped_mg) as scrapped_mg,
        sum(case when rework then good_mg - scrapped_mg else 0 end) as repour_mg
    from deposits group by pour
),

pours as (
    select
        use.use_id, pour.pour, use.quantity, greatest(pour.mixed_mg, 1) as mixed_mg, pour.good_mg,
        pour.trimmed_mg, coalesce(pour.left_in_cup_mg, 0) as cup_mg,
        coalesce(pour.spilled_mg, 0) as spilled_mg, coalesce(good.good_mg, 0) as piece_mg,
        coalesce(good.scrapped_mg, 0) as scrapped_mg, coalesce(good.repour_mg, 0) as repour_mg
    from work.use
    join work.pour on pour.row_id = use.row_id
    left join good on good.pour = pour.pour
    where use.source = 'pour'
),

-- a deposit above all that was mixed is wrong somewhere: no fate may take more than there is, in
-- this order
fates as (
    select
        *, least(good_mg, mixed_mg) as good, least(trimmed_mg, mixed_mg - good) as trimmed,
        least(cup_mg, mixed_mg - good - trimmed) as cup,
        least(spilled_mg, mixed_mg - good - trimmed - cup) as spilled
    from pours
),

drawn as (
    select
        flow.lot_id, flow.use_id, flow.from_quantity, flow.flow as item, resins.unit,
        flow.to_quantity - flow.from_quantity as quantity,
        coalesce(use.on_date, counted.on_date) as on_date,
        coalesce(use.row_id, counted.row_id) as row_id, fates.pour,
        case when fates.pour is not null then 'pour'
             when counted.row_id is null then 'other'
             when flow.use_id = again_id(counted.row_id, counted.flow) then 'short'
             when counted.cause = 'expired' then 'expired'
             when counted.cause = 'own use' then 'other'
             else 'short' end as fate,
        fates.* exclude (use_id, pour, quantity)
    from work.flow
    join resins on resins.item = flow.flow
    left join work.use on use.use_id = flow.use_id
    left join work.counted as counted
        on counted.flow = flow.flow and counted.row_id = row_of_draw(flow.use_id)
        and flow.use_id in (
            short_id(counted.row_id, counted.flow), again_id(counted.row_id, counted.flow)
        )
    left join fates on fates.use_id = flow.use_id
),

cuts as (
    select
        *,
        coalesce(cut(quantity, good, mixed_mg), 0) as good_quantity,
        coalesce(cut(quantity, good + trimmed, mixed_mg), 0) as to_trimmed,
        coalesce(cut(quantity, good + trimmed + cup, mixed_mg), 0) as to_cup,
        coalesce(cut(quantity, good + trimmed + cup + spilled, mixed_mg), 0) as to_spilled
    from drawn
)

select
    lot_id, use_id, from_quantity, item, unit, on_date, row_id, pour, fate, quantity,
    case when fate = 'pour' then quantity else 0 end as poured, good_quantity as good,
    case when piece_mg > 0 then cut(good_quantity, scrapped_mg, piece_mg) else 0 end as scrapped,
    case when piece_mg > 0
         then share(good_quantity, scrapped_mg, scrapped_mg + repour_mg, piece_mg)
         else 0 end as repour,
    to_trimmed - good_quantity as trimmed, to_cup - to_trimmed as cup,
    to_spilled - to_cup as spilled,
    case when fate = 'pour' then quantity - to_spilled else 0 end as unexplained,
    case when fate = 'other' then quantity else 0 end as other,
    case when fate in ('short', 'expired') then quantity else 0 end as short,
    case when fate = 'expired' then quantity else 0 end as expired
from cuts
