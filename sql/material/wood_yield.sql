-- One row per wooden lot: where its volume went, how much of it ended in finished pieces, and what
-- that cost: of the lot's cost the part, by volume, of what is gone; uncut wood burdens no piece yet.
-- Bought = finished + shaped away (planed, carved, sanded) + in work + scrapped (whole blanks, test
-- pieces too) + used without a piece + sold as such + lost + kerf + offcut + on hand. No record
-- holds the kerf: it is half the edge of each blank (length + width, as neighbours share a cut) x
-- thickness x the saw's kerf, no more than is left over. Offcut is the rest of a closed lot. Yield
-- is finished over bought; yield of what is gone leaves out what is on hand, in work or sold. Board
-- feet: boards by surface measure (width in inches x length in feet / 12, rounded to the whole,
-- exact halves up, x thickness, under an inch counts as one: the tally of americanhardwood.org,
-- "Measurement", and goodwoodcorp.com). Slabs with live edges and rounds have no such rule: their
-- solid volume, by the width or the diameter as written.
-- @key lot_id
-- @check abs(bought_dm3 - finished_dm3 - shaped_dm3 - in_work_dm3 - scrapped_dm3 - other_dm3 -
--     sold_dm3 - lost_dm3 - kerf_dm3 - offcut_dm3 - on_hand_dm3) < 0.000001
with draws as (
    select flow.lot_id, flow.to_quantity - flow.from_quantity as mm3, use.source
    from work.flow
    join work.use on use.use_id = flow.use_id
    where flow.flow like 'wood/%'
),

cut_out as (
    select
        lot_id, count(*) as pieces, sum(mm3) as blank_mm3,
        sum(mm3 - scrapped_mm3) filter (where in_work) as in_work_mm3,
        sum(scrapped_mm3) as scrapped_mm3,
        sum(finished_mm3) filter (where not in_work) as finished_mm3,
        -- in one order: doubles added in another have another last digit
        sum(kerf_mm3 order by piece) as kerf_mm3
    from material._blank group by lot_id
),

elsewhere as (
    select
        lot_id, sum(mm3) as drawn_mm3,
        sum(case when source = 'lot sale' then mm3 else 0 end) as sold_mm3,
        sum(case when source = 'lot loss' then mm3 else 0 end) as lost_mm3
    from draws group by lot_id
),

parts as (
    select
        lot.*, coalesce(cut_out.pieces, 0) as pieces, coalesce(elsewhere.drawn_mm3, 0) as drawn_mm3,
        coalesce(cut_out.blank_mm3, 0) as blank_mm3,
        coalesce(cut_out.in_work_mm3, 0) as in_work_mm3,
        coalesce(cut_out.scrapped_mm3, 0) as scrapped_mm3,
        coalesce(cut_out.finished_mm3, 0) as finished_mm3,
        coalesce(elsewhere.sold_mm3, 0) as sold_mm3, coalesce(elsewhere.lost_mm3, 0) as lost_mm3,
        coalesce(cut_out.kerf_mm3, 0) as all_kerf_mm3,
        lot.bought - lot.on_hand - coalesce(elsewhere.drawn_mm3, 0) as closed_mm3
    from cost.lot
    left join cut_out on cut_out.lot_id = lot.lot_id
    left join elsewhere on elsewhere.lot_id = lot.lot_id
    -- a slab that went back whole has no yield
    where lot.category = 'wood' and (lot.bought > 1 or lot.landed_cents > 0)
),

settled as (
    select
        *, least(all_kerf_mm3, closed_mm3 + greatest(on_hand, 0)) as kerf_mm3,
        greatest(closed_mm3 - kerf_mm3, 0) as offcut_mm3,
        on_hand - greatest(kerf_mm3 - closed_mm3, 0) as left_mm3,
        bought - left_mm3 - in_work_mm3 - sold_mm3 as gone_mm3
    from parts
),

boards as (
    select
        row_id as lot_id, width_um, thickness_um, diameter_um, length_um,
        coalesce(count, 1) as boards,
        floor(width_um / 25400 * length_um / 304800 / 12 + 0.5) as surface_measure,
        greatest(thickness_um / 25400, 1) as thickness_in
    from records.purchases where category = 'wood'
),

tallied as (
    select
        settled.*, boards.boards,
        form = 'board' and surface_measure * thickness_in is not null as by_rule,
        case when by_rule then surface_measure * thickness_in * boards.boards
             else bought / 2359737.216 end as board_feet,
        case when by_rule then 'surface measure'
             when diameter_um + thickness_um is not null
             then 'solid volume by the diameter as written'
             when width_um + length_um + thickness_um is not null
             then 'solid volume by the width as written'
             else 'volume as bought' end as board_feet_basis
    from settled
    left join boards on boards.lot_id = settled.lot_id
)

select
    lot_id, lot, species, supplier, form, bought_on, cast(boards as bigint) as boards,
    case when bought < 20000000 then 'under 20 dm3'
         when bought < 50000000 then '20 to 50 dm3'
         else '50 dm3 and more' end as purchase_size,
    pieces, bought / 1000000 as bought_dm3, blank_mm3 / 1000000 as blank_dm3,
    finished_mm3 / 1000000 as finished_dm3,
    (blank_mm3 - in_work_mm3 - scrapped_mm3 - finished_mm3) / 1000000 as shaped_dm3,
    in_work_mm3 / 1000000 as in_work_dm3, scrapped_mm3 / 1000000 as scrapped_dm3,
    (drawn_mm3 - blank_mm3 - sold_mm3 - lost_mm3) / 1000000 as other_dm3,
    sold_mm3 / 1000000 as sold_dm3, lost_mm3 / 1000000 as lost_dm3, kerf_mm3 / 1000000 as kerf_dm3,
    offcut_mm3 / 1000000 as offcut_dm3, left_mm3 / 1000000 as on_hand_dm3,
    gone_mm3 / 1000000 as gone_dm3,
    case when pieces > 0 then finished_mm3 / bought end as yield_share,
    case when pieces > 0 and gone_mm3 > 0 then finished_mm3 / gone_mm3 end as gone_yield_share,
    closed_mm3 > 0 or on_hand = 0 as lot_closed,
    board_feet, board_feet_basis, landed_cents, whole(landed_cents * (gone_mm3 / bought)) as gone_cents,
    whole(landed_cents / nullif(board_feet, 0)) as cents_per_board_foot,
    case when finished_mm3 > 0
         then whole(gone_cents / (finished_mm3 / 1000000)) end as cents_per_finished_dm3,
    case when finished_mm3 > 0 then whole(gone_cents / (finished_mm3 / 2359737.216)) end
        as cents_per_finished_board_foot
from tallied
