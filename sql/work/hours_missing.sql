-- One row per finished piece and operation that nobody logged, or not all of it, though most
-- comparable pieces have it: the seconds that are lacking.
-- What hours without a piece are taken to be is no longer lacking.
-- @key piece, operation
with covered as (
    select covered.piece, hours.operation, sum(covered.seconds) as seconds
    from work._covered as covered
    join work.hours on hours.row_id = covered.row_id
    group by covered.piece, hours.operation
),

lacking as (
    select
        lacking.piece, lacking.name as operation,
        lacking.amount - coalesce(covered.seconds, 0) as seconds
    from work._lacking as lacking
    left join covered on covered.piece = lacking.piece and covered.operation = lacking.name
    where lacking.want = 'work'
)

select
    lacking.piece, lacking.operation, piece.row_id, piece.finished_on as on_date,
    cast(lacking.seconds as bigint) as seconds
from lacking
join work.piece on piece.piece = lacking.piece
where piece.status = 'finished' and piece.finished_on is not null and lacking.seconds > 0
