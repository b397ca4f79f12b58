-- One row per piece and thing that it lacks though most comparable pieces have it: how much. A
-- piece lacks all of what nobody logged of it, and of what is logged the part that is likely to be
-- lacking. An operation that is logged without its machine may have been done by hand. In place of
-- a fitting that is usual it may have another one that is not.
-- @key piece, want, name, part
-- @check amount > 0
with had as (select * from work._had),

usual as (select * from work._usual),

instead as (
    select distinct had.piece, had.part from had
    anti join usual
        on usual.piece = had.piece and usual.want = 'item' and usual.name = had.name
    where had.want = 'item'
)

select
    usual.piece, usual.want, usual.name, usual.part, coalesce(found.amount, usual.amount) as amount,
    false as in_part
from usual
left join work.part_logged as found
    on found.piece = usual.piece and found.want = usual.want and found.name = usual.name
    and found.part = usual.part
anti join had
    on had.piece = usual.piece and had.want = usual.want and had.name = usual.name
    and had.part = usual.part
anti join had as by_hand
    on usual.want = 'machine' and by_hand.want = 'work' and by_hand.piece = usual.piece
    and by_hand.name = usual.name
anti join instead on usual.want = 'item' and instead.piece = usual.piece and instead.part = usual.part
union all by name
select piece, want, name, part, amount, true as in_part from work.part_logged where likely and had > 0
