-- One row per stretch of work and piece (or none), in cents: labour going into pieces, into the
-- pool that names shop work, or to its month.
-- Operations that nobody logged come from `imputed`, at the first owner's rate, outside the books.
with paid as (select * from cost._person_hour),

shares as (
    select
        piece.*,
        sum(piece.weight) over (partition by piece.row_id order by piece.piece) as to_weight,
        -- a stretch that named no piece may be covered in part: the rest stays with its month
        case when piece.assumed then greatest(hours.seconds, 1)
             else sum(piece.weight) over (partition by piece.row_id) end as all_weight
    from work.hours_piece as piece
    join work.hours on hours.row_id = piece.row_id
),

placed as (
    select
        paid.*, shares.piece, coalesce(shares.after_sale, false) as after_sale,
        share(paid.cents, to_weight - weight, to_weight, all_weight) as share_cents,
        shares.seconds as share_seconds, shares.rework, shares.assumed as covered
    from paid
    join shares on shares.row_id = paid.row_id
),

taken as (
    select row_id, sum(share_cents) as cents, sum(share_seconds) as seconds
    from placed group by row_id
),

rest as (
    select
        paid.*,
        paid.cents - coalesce(taken.cents, 0) as rest_cents,
        paid.seconds - coalesce(taken.seconds, 0) as rest_seconds
    from paid
    left join taken on taken.row_id = paid.row_id
    where taken.row_id is null or paid.seconds > taken.seconds
),

pools as (
    select distinct name as pool, unnest(string_split(operations, '; ')) as operation
    from settings.pool where operations is not null
),

missing as (
    select
        missing.on_date, missing.row_id, rates.row_id as paid_row_id, missing.operation,
        missing.piece, missing.seconds,
        coalesce(cut(missing.seconds, thousandths(rates.rate_cents), 3600000), 0) as cents
    from work.hours_missing as missing
    cross join work.first_owner
    asof left join settings.person_rate as rates
        on rates.name = first_owner.name and rates.from_date <= missing.on_date
)

select
    on_date, day_turn, row_id, paid_row_id, operation, kind, origin, piece, 'labour' as from_place,
    case when after_sale then 'period' else 'piece' end as place, cast(null as varchar) as pool,
    cast(share_cents as bigint) as cents, share_seconds as seconds,
    rework, assumed or covered as assumed, false as estimated
from placed
union all by name
select
    on_date, day_turn, row_id, paid_row_id, rest.operation, kind, origin, 'labour' as from_place,
    case when pools.pool is null then 'period' else 'pool' end as place, pools.pool,
    cast(rest_cents as bigint) as cents, cast(rest_seconds as bigint) as seconds,
    false as rework, assumed, false as estimated
from rest
left join pools on pools.operation = rest.operation and rest.kind = 'shop'
union all by name
select
    on_date, row_id, paid_row_id, operation, 'bench' as kind, 'own labour' as origin, piece,
    'imputed' as from_place, 'piece' as place, cents, seconds,
    false as rework, false as assumed, true as estimated
from missing
