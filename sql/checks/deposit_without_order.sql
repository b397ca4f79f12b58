-- A deposit or balance that names no order: it is owed, or taken as paid ahead, until it does.
-- @severity warning
select on_date, kind, amount_cents, row_id from records.payments
where kind in ('deposit', 'balance') and order_no is null
