-- One row per lot: a purchase line of stock, opening stock, or what was saved from a piece, with
-- what is really in it after goods went back. `flow` is what takes turns: lots of one species, or
-- of one item. A wooden lot holds at least what was cut from it; a line without a usable quantity
-- is one lot of one, or of so many kits, that no draw takes from: what it holds is not known.
-- `uncounted`: bought before the records begin, and taken to have been there then.
-- @key lot_id
-- @check quantity >= 0
with bought as (select * from work._bought where not sent_back),

gone_back as (select lot_id, sum(amount) as amount from work.sent_back group by lot_id),

first_of_tag as (
    select lot, min_by(row_id, (on_date, day_turn)) as lot_id
    from bought where lot is not null group by lot
),

cut_from as (
    select first_of_tag.lot_id, sum(piece.blank_mm3) as mm3
    from work.piece
    join first_of_tag on first_of_tag.lot = piece.lot
    where not piece.opening
    group by first_of_tag.lot_id
)

select
    bought.row_id as lot_id, bought.on_date, bought.lot, bought.item, bought.category,
    bought.species, bought.supplier, bought.expires,
    case when bought.category = 'wood' then 'wood/' || coalesce(bought.species, bought.item)
         when not bought.measured then unmeasured_flow(bought.item)
         else bought.item end as flow,
    case when bought.category <> 'wood' then null
         when bought.diameter_um is not null then 'round'
         when bought.width_um >= 300000 then 'slab'
         else 'board' end as form,
    case when bought.measured then bought.unit else 'each' end as unit,
    cast(case
        when bought.category = 'wood' and gone_back.amount >= bought.amount
        then coalesce(cut_from.mm3, 0)
        when bought.category = 'wood'
        then greatest(
            coalesce(bought.amount, 0) - coalesce(gone_back.amount, 0), coalesce(cut_from.mm3, 0), 1
        )
        else greatest(coalesce(bought.amount, bought.things) - coalesce(gone_back.amount, 0), 0)
        end as bigint) as quantity,
    bought.amount as bought_quantity,
    bought.opening, bought.saved_from, bought.day_turn,
    coalesce(bought.on_date < shop.start, false)
        and not bought.opening and bought.saved_from is null as uncounted
from bought
left join settings.shop on true
left join gone_back on gone_back.lot_id = bought.row_id
left join cut_from on cut_from.lot_id = bought.row_id
