-- A payment that may be a second view of records that tell of it already: more than one fits, or
-- something older of its kind is still open. The likeliest is taken, so that cash counts once.
-- @severity warning
select
    payments.row_id, payments.kind as payment, payments.on_date, payments.amount_cents,
    any_value(twin.kind) as taken_for, count(*) as records, min(twin.on_date) as first_on
from money.twin
join records.payments on payments.row_id = twin.payment_id
where not twin.sure
group by all
