-- One row per sale row: what was taken, the tax on it, what the channel keeps, and who owes us the
-- rest; and one per allowance, which is of no units.
-- `account` says how its money comes: with the payments of its order, with the payouts of its
-- channel or event, with the refund that is its twin, or, where no payment tells, on the day itself
-- (assumed).
-- @key row_id
with due as (select * from money._due),

twins as (
    select twin.row_id, any_value(payments.kind) as kind
    from money.twin
    join records.payments on payments.row_id = twin.payment_id
    where twin.kind = 'sale' group by twin.row_id
),

channels as (select distinct channel as name from records.sales where channel is not null),

payouts as (
    select
        payments.event, channels.name as channel,
        payments.row_id in (select payment_id from money.twin) as matched
    from records.payments
    left join channels on lower(channels.name) = lower(trim(payments.note))
    where payments.kind = 'payout' and payments.order_no is null
),

named as (select distinct channel from payouts where channel is not null),

held_events as (select distinct event from payouts where event is not null),

keeps_fee as (select distinct name from settings.channel where share_ppm > 0 or tax_by = 'channel'),

-- a payout that names neither and is the twin of none: of the channels that keep a fee, else of
-- whatever no other payment tells of
plain as (
    select count(*) > 0 as some from payouts
    where channel is null and event is null and not matched
),

settled as (
    select
        due.*,
        case when followed then 'order'
             when twins.kind is not null then twins.kind
             when event in (from held_events) or channel in (from named) then 'payout'
             when plain.some and event is null
                 and (channel in (from keeps_fee) or not exists (from keeps_fee)) then 'payout'
             else 'assumed' end as account
    from due
    cross join plain
    left join twins on twins.row_id = due.row_id
),

allowances as (
    select
        row_id, on_date, month_of(on_date) as month, event, order_no, 0 as units,
        tax_cents - cents as taken_cents, tax_cents - cents as revenue_cents,
        -tax_cents as tax_cents, 0 as channel_tax_cents, 0 as kept_cents, -cents as due_cents,
        case when order_no is null then 'refund' else 'order' end as account
    from money.allowance
),

entries as (
    select * exclude (followed, postage_cents) from settled
    union all by name
    from allowances
)

select
    row_id, on_date, month, channel, event, order_no, piece, product, units, taken_cents,
    revenue_cents, tax_cents, channel_tax_cents, kept_cents, due_cents, account
from entries
