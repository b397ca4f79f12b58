-- One row per piece of which units came to nothing: how many were scrapped at the bench or lost, or
-- were tests. Of a piece that is said to be so, those that were not sold; of any other, those that
-- an inspection scrapped. What came back from a buyer was sound when it left.
-- @key piece
-- @check units between 1 and all_units
with gone as (
    select
        piece, sum(units_out - units_out_before) filter (where kind in ('sale', 'return')) as sold,
        sum(units_out - units_out_before) filter (
            where kind = 'scrapped' and row_id not in (select row_id from records.sales)
        ) as scrapped
    from work.exit group by piece
),

counted as (
    select
        piece.piece, piece.units as all_units,
        cast(case
            when piece.status in ('scrapped', 'lost', 'test')
            then piece.units - greatest(coalesce(gone.sold, 0), 0)
            else coalesce(gone.scrapped, 0) end as bigint) as units
    from work.piece
    left join gone on gone.piece = piece.piece
)

select piece, units, all_units from counted where units > 0
