-- One row per finished piece and item that nobody logged, or not all of it, though nearly all
-- comparable pieces have it, and per purpose of a pour that most of them have: how much is lacking,
-- and of which item. The resin is the one that the product's pours of that purpose take most.
-- @key piece, want, name
with poured as (
    select piece.product, coalesce(pour.purpose, '') as purpose, pour.resin, count(*) as pours
    from work.pour_piece as shares
    join work.pour on pour.pour = shares.pour
    join work.piece on piece.piece = shares.piece
    where pour.resin is not null and not shares.rework
    group by piece.product, coalesce(pour.purpose, ''), pour.resin
),

resins as (
    select product, purpose, resin from poured
    qualify row_number() over (partition by product, purpose order by pours desc, resin) = 1
)

select
    lacking.piece, lacking.want, lacking.name, piece.row_id, piece.finished_on as on_date,
    item.item as flow, item.category, item.unit,
    case when lacking.want = 'resin' and item.unit <> 'mg'
         then in_base(lacking.amount, 'mg', item.unit, item.density_ug_per_ul, item.kit_ul)
         else lacking.amount end as quantity,
    row_number() over (partition by lacking.piece order by lacking.want, lacking.name) as number
from work._lacking as lacking
join work.piece on piece.piece = lacking.piece
left join resins on resins.product = piece.product and resins.purpose = lacking.name
join work.item
    on item.item = case lacking.want when 'resin' then resins.resin else lacking.name end
where lacking.want in ('resin', 'item') and piece.status = 'finished'
    and piece.finished_on is not null
