-- One row per finished piece and day from which units of it are on no tagged sale. A unit that a
-- later record names is not there for an earlier one; one that comes back is there from that day
-- on. What is made to order waits for its order.
-- @key piece, ready_on
with shelf as (
    select * from work.piece
    where finished_on is not null and status = 'finished' and order_no is null
),

taken as (
    -- what was scrapped or kept when it came back is not for sale again
    select
        shelf.piece, greatest(tagged.on_date, shelf.finished_on) as on_date,
        sum(tagged.units) as units
    from work._tagged as tagged
    join records.sales on sales.row_id = tagged.row_id
    join shelf on shelf.piece = tagged.piece
    where tagged.units > 0 or coalesce(sales.returned_to, 'stock') = 'stock'
    group by shelf.piece, greatest(tagged.on_date, shelf.finished_on)
),

scrapped as (
    select
        shelf.piece, greatest(found.on_date, shelf.finished_on) as on_date,
        sum(found.quantity) as units
    from records.inspections as found
    join shelf on shelf.piece = found.piece
    where found.action = 'scrap' and found.quantity is not null
    group by shelf.piece, greatest(found.on_date, shelf.finished_on)
),

left_over as (
    select piece, finished_on as on_date, units from shelf
    union all by name
    select piece, on_date, -units as units from taken
    union all by name
    select piece, on_date, -units as units from scrapped
),

held as (
    select piece, on_date, sum(sum(units)) over (partition by piece order by on_date) as units
    from left_over group by piece, on_date
),

free as (
    select
        piece, on_date,
        greatest(
            min(units) over (
                partition by piece order by on_date rows between current row and unbounded following
            ),
            0
        ) as units
    from held
),

freed as (
    select
        piece, on_date as ready_on,
        units - coalesce(lag(units) over (partition by piece order by on_date), 0) as units
    from free
)

select
    freed.piece, freed.ready_on, shelf.product, shelf.finished_on,
    cast(freed.units as bigint) as units
from freed
join shelf on shelf.piece = freed.piece
where freed.units > 0
