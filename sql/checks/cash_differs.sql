-- Cash in the books is not what the bank statement says, from this month on: money moved that no
-- record tells of, is told twice, or was there at the start (`opening_cash`).
-- @severity warning
select month, books_cash_cents, statement_cents, differs_cents
from money.cash_proof where differs_cents <> 0
qualify month = min(month) over ()
