-- A piece without the slab that it was cut from: the oldest wood of its species is taken for it.
-- Wood on the usage list takes the place of a blank, so such a piece lacks none.
-- @severity warning
with listed as (
    select distinct bridge.piece from records.usage_piece as bridge
    join records.usage on usage.row_id = bridge.row_id
    join work.item on item.item = usage.item
    where item.category = 'wood'
)

select piece, species, started_on from work.piece
where lot is null and not opening and blank_mm3 > 0 and piece not in (select piece from listed)
