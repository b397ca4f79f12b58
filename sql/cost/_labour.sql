-- One row per stretch of work and piece (or none), in cents: labour going into pieces, or to its month.
with paid as (select * from cost._person_hour),

shares as (
    select
        piece.*, sum(weight) over (partition by row_id order by piece.piece) as to_weight, sum(weight) over (partition by row_id) as all_weight
    from work.hours_piece as piece
)

select
    paid.on_date, paid.row_id, paid.paid_row_id, paid.operation, paid.kind, paid.origin, shares.piece,
    case when shares.piece is null or shares.after_sale then 'period' else 'piece' end as place,
    cast(case when shares.piece is null then paid.cents
              else cut(paid.cents, to_weight, all_weight) - cut(paid.cents, to_weight - weight, all_weight) end as bigint) as cents,
    coalesce(shares.seconds, paid.seconds) as seconds,
    coalesce(shares.rework, false) as rework, paid.assumed
from paid
left join shares on shares.row_id = paid.row_id
