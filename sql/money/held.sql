-- One row per piece and month at whose end it is in the shop (or out on consignment) with cost in
-- it.
-- All of a piece's balance lies in one stage at any time, so the stage with a balance is the one it
-- is in.
-- @key piece, month
with changes as (
    select piece, stage, month, sum(change_cents) as cents, sum(own_cents) as own_cents
    from money._piece_step group by piece, stage, month
),

balances as (
    select
        piece, stage, month, sum(cents) over so_far as cents,
        sum(own_cents) over so_far as own_cents,
        lead(month) over (partition by piece, stage order by month) as next_month
    from changes
    window so_far as (partition by piece, stage order by month rows unbounded preceding)
),

span as (select min(month) as first_month, max(month) as last_month from work.month),

held as (
    select
        piece, stage, cents, own_cents,
        cast(unnest(generate_series(
            greatest(balances.month, first_month),
            least(coalesce(cast(next_month - interval 1 month as date), last_month), last_month),
            interval 1 month
        )) as date) as month
    from balances
    cross join span
    where cents > 0
),

out_by_day as (
    select piece, on_date, arg_max(units_out, number) as units_out
    from work.exit group by piece, on_date
)

select
    held.piece, held.month, held.stage,
    cast(piece.units - coalesce(gone.units_out, 0) as bigint) as units,
    cast(held.cents as bigint) as cost_cents, cast(held.own_cents as bigint) as own_labour_cents
from held
join work.piece on piece.piece = held.piece
asof left join out_by_day as gone
    on gone.piece = held.piece and gone.on_date <= last_day(held.month)
