-- One row per piece: its circle, in which good pieces carry normal scrap, the month in which it was
-- finished, and how many of its units were good at that month's end.
-- @key piece
with scrapped_by as (
    -- units of a run that were scrapped by the end of the month in which it was finished
    select exits.piece, sum(exits.units_out - exits.units_out_before) as units
    from work.exit as exits
    join work.piece on piece.piece = exits.piece
    where exits.place = 'pool' and exits.on_date <= last_day(piece.finished_on)
    group by exits.piece
)

select
    piece.piece, piece.units, piece.units - coalesce(scrapped_by.units, 0) as good_units,
    piece.finished_on, month_of(piece.finished_on) as month,
    -- what becomes of a good piece in a later month is that month's
    piece.status <> 'test' and (
        piece.status not in ('scrapped', 'lost')
            or month_of(piece.ended_on) > month_of(piece.finished_on)
    ) as good,
    case shop.scrap_circle
         when 'product' then piece.product
         when 'order' then coalesce(piece.order_no, '')
         else '' end as circle
from work.piece
cross join settings.shop
left join scrapped_by on scrapped_by.piece = piece.piece
