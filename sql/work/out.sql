-- One row per stretch of days in which every unit of a piece is out of the shop: work done then is
-- warranty.
-- A day on which the last unit leaves still counts as in the shop.
-- @key piece, from_on
with exits as (
    select piece, on_date, units_out >= units as all_out, number from work.exit
),

daily as (
    select piece, on_date, arg_max(all_out, number) as all_out from exits group by piece, on_date
),

turns as (
    select
        piece, on_date, all_out,
        lag(all_out, 1, false) over (partition by piece order by on_date) as was_out
    from daily
),

edges as (
    select
        piece, on_date as from_on, all_out,
        lead(on_date) over (partition by piece order by on_date) as to_on
    from turns where all_out <> was_out
)

select piece, from_on, to_on from edges where all_out
