-- One row where pieces have been judged: how long most findings take, and how many pieces are too
-- young to be judged.
-- @key finding_days
select
    max(finding_days) as finding_days, count(*) filter (where young) as young_pieces,
    count(*) filter (where young and (reworked or scrapped)) as young_found
from quality._judged
having count(*) > 0
