-- One row per day and piece that drive the use of consumables: what an item without a log of its
-- own is taken to follow. Abrasives follow sanding time, finishes the surface of pieces finished in
-- a month, packaging the units sold, and all else attended bench time. A piece whose finish is known
-- to come from the shelf had it, though no finishing of it is on record: on the day it was finished.
with worked as (
    select
        piece.piece, piece.on_date, piece.seconds, hours.operation,
        hours.attended and hours.kind = 'bench' as bench
    from work.hours_piece as piece
    join work.hours on hours.row_id = piece.row_id
    where not piece.after_sale
),

sanded as (
    select 'abrasive' as category, on_date, 'piece' as place, piece, sum(seconds) as weight
    from worked where operation = 'sanding' group by on_date, piece
),

finished as (
    select
        'finish' as category, min(worked.on_date) as on_date, 'piece' as place, worked.piece,
        min(piece.area_mm2) as weight
    from worked
    join work.piece on piece.piece = worked.piece
    where worked.operation = 'finishing'
    group by worked.piece, month_of(worked.on_date)
),

unlogged as (
    select
        'finish' as category, finished_on as on_date, 'piece' as place, piece, area_mm2 as weight
    from work.piece
    where finished_on is not null and finish in (select finish from work._finish_of)
        and piece not in (select piece from worked where operation = 'finishing')
),

benched as (
    select 'consumable' as category, on_date, 'piece' as place, piece, sum(seconds) as weight
    from worked where bench group by on_date, piece
),

sold as (
    select
        'packaging' as category, sales.on_date, 'sold' as place, sale_piece.piece,
        coalesce(sale_piece.units, sales.quantity, 1) as weight
    from records.sales
    left join work.sale_piece on sale_piece.row_id = sales.row_id
    where coalesce(sales.quantity, 1) > 0 and sales.lot is null
),

driven as (
    select * from sanded
    union all by name
    select * from finished
    union all by name
    select * from unlogged
    union all by name
    select * from benched
    union all by name
    select * from sold
)

select category, on_date, month_of(on_date) as month, place, piece, cast(weight as bigint) as weight
from driven
where weight > 0
