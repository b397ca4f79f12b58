-- One row per wooden lot and piece cut from it: what of the blank became of what.
-- No record holds the kerf: it is half the edge of each blank (length + width, as neighbours share a
-- cut) x thickness x the saw's kerf. A blank cut from several lots gives each its share of the
-- finished volume.
-- @key lot_id, piece
with draws as (
    select
        flow.lot_id, flow.use_id, flow.from_quantity, flow.to_quantity - flow.from_quantity as mm3,
        use.source, use.row_id
    from work.flow
    join work.use on use.use_id = flow.use_id
    where flow.flow like 'wood/%'
),

-- a draw that names several pieces goes to them alike
named as (
    select draws.*, piece.piece, 1 as part, 1 as parts
    from draws
    join work.piece on piece.row_id = draws.row_id
    where draws.source = 'blank'
    union all by name
    select
        draws.*, bridge.piece, row_number() over (of_draw order by bridge.piece) as part,
        count(*) over of_draw as parts
    from draws
    join records.usage_piece as bridge on bridge.row_id = draws.row_id
    where draws.source = 'usage'
    window of_draw as (partition by draws.use_id, draws.lot_id, draws.from_quantity)
),

taken as (
    select lot_id, piece, sum(share(mm3, part - 1, part, parts)) as mm3
    from named group by lot_id, piece
),

whole as (select *, sum(mm3) over (partition by piece) as all_mm3 from taken),

sawn as (
    select
        piece,
        cast(coalesce(
            blank_length_um + blank_width_um, diameter_um + diameter_um, length_um + width_um
        ) as double) as edge_um,
        edge_um * coalesce(blank_thickness_um, thickness_um) / 1000000 * coalesce(quantity, 1)
            as edge_mm2
    from records.pieces
),

fates as (
    select
        piece.piece, piece.status = 'in progress' as in_work,
        coalesce(piece.volume_mm3, 0) as volume_mm3,
        coalesce(unsound.units, 0) as lost, coalesce(unsound.all_units, 1) as all_units,
        coalesce(unsound.all_units - unsound.units, 1) as sound
    from work.piece
    left join work.unsound on unsound.piece = piece.piece
)

select
    whole.lot_id, whole.piece, whole.mm3, fates.in_work,
    cut(whole.mm3, lost, all_units) as scrapped_mm3,
    cut(cut(volume_mm3, sound, all_units), whole.mm3, whole.all_mm3) as finished_mm3,
    coalesce(sawn.edge_mm2 * shop.kerf_mm * whole.mm3 / whole.all_mm3, 0) as kerf_mm3
from whole
join fates on fates.piece = whole.piece
join sawn on sawn.piece = whole.piece
cross join settings.shop
