-- One row per movement of cash, recorded as a payment or taken to have moved on its record's day
-- (assumed).
select on_date, month, kind, row_id, cents, assumed
from money._ledger where account = 'cash' and kind <> 'there at the start'
