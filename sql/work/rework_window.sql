-- One row per stretch of days in which a piece is back at the bench: from an inspection that says
-- rework to the next that passes it.
-- @key piece, from_on
with looks as (
    select
        piece, on_date, bool_or(action = 'rework') as again,
        bool_or(action in ('accept', 'discount', 'scrap')) as passed
    from records.inspections where piece is not null and action is not null
    group by piece, on_date
)

select
    again.piece, again.on_date as from_on,
    (
        select min(looks.on_date)
        from looks
        where looks.piece = again.piece and looks.on_date > again.on_date and looks.passed
    ) as to_on
from looks as again
where again.again
