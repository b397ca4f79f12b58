-- A month that ends with less than no cash: a payment into the shop is missing, or the cash at the
-- start.
-- @severity warning
select month, cash_end_cents from money.month where cash_end_cents < 0
