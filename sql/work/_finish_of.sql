-- One row per item that is some pieces' finish, and finish that these have. Its name says which; where
-- no piece's finish has its name, the finishes of the pieces that a use of it was logged for.
-- @key item, finish
with items as (select item from work.item where category = 'finish'),

by_name as (
    select distinct items.item, piece.finish
    from items
    join work.piece on piece.finish = items.item
),

by_log as (
    select distinct usage.item, piece.finish
    from records.usage
    join items on items.item = usage.item
    join records.usage_piece as bridge on bridge.row_id = usage.row_id
    join work.piece on piece.piece = bridge.piece
    where piece.finish is not null and usage.item not in (select item from by_name)
)

select * from by_name
union all by name
select * from by_log
