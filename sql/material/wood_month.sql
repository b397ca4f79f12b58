-- One row per month in which wood left the bench, in pieces that were finished or came to nothing:
-- how much of it is in finished pieces.
-- Each blank bears its share of what else is gone of its lot (kerf, offcut, what was lost), so that
-- over all months it comes to the yield of what is gone. What is still in work is in no month yet.
-- @key month
with first as (select min(month) as month from work.month),

blanks as (
    select
        blank.lot_id, blank.mm3 - case when blank.in_work then blank.mm3 - blank.scrapped_mm3 else 0 end as done_mm3,
        case when blank.in_work then 0 else blank.finished_mm3 end as finished_mm3, blank.piece,
        greatest(
            month_of(coalesce(piece.finished_on, piece.ended_on, piece.started_on)), first.month
        ) as month
    from material._blank as blank
    join work.piece on piece.piece = blank.piece
    cross join first
),

shares as (
    select
        blanks.*,
        lot.gone_dm3 * done_mm3 / nullif(sum(done_mm3) over (partition by lot_id), 0) as gone_dm3
    from blanks
    join material.wood_yield as lot using (lot_id)
    where lot.gone_dm3 > 0
)

select
    month, count(distinct piece) as pieces, sum(finished_mm3) / 1000000 as finished_dm3,
    sum(gone_dm3 order by piece, gone_dm3) as gone_dm3
from shares where month is not null and done_mm3 > 0 group by month
