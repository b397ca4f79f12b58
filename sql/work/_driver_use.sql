-- One row per day and piece that drive the use of consumables: what an item without a log of its
-- own is taken to follow. Abrasives follow sanding time, finishes the surface of pieces finished in
-- a month, packaging the units sold, and all else attended bench time. A piece whose finish is known
-- to come from the shelf had it, though no finishing of it is on record: on the day it was finished;
-- so had any piece of a shop that logs no finishing. Where no piece has a size, units stand for it.
with worked as (
    select
        piece.piece, piece.on_date, piece.seconds, hours.operation,
        hours.attended and hours.kind = 'bench' as bench
    from work.hours_piece as piece
    join work.hours on hours.row_id = piece.row_id
    where not piece.after_sale
),

finishing as (select piece, on_date from worked where operation = 'finishing'),

surface as (
    select
        piece, finish, finished_on,
        case when count(area_mm2) over () > 0 then area_mm2 else units end as weight
    from work.piece
),

sanded as (
    select 'abrasive' as category, on_date, 'piece' as place, piece, sum(seconds) as weight
    from worked where operation = 'sanding' group by on_date, piece
),

finished as (
    select
        'finish' as category, min(finishing.on_date) as on_date, 'piece' as place,
        finishing.piece, min(surface.weight) as weight
    from finishing
    join surface on surface.piece = finishing.piece
    group by finishing.piece, month_of(finishing.on_date)
),

unlogged as (
    select 'finish' as category, finished_on as on_date, 'piece' as place, piece, weight
    from surface
    where finished_on is not null and piece not in (select piece from finishing)
        and (
            finish in (select finish from work._finish_of)
            or not exists (select 1 from finishing)
        )
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
