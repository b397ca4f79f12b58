-- A pour that names no resin, where there were several or none: it costs no piece anything until it
-- does.
-- @severity warning
select pour.pour, pour.on_date, pour.row_id
from work.pour_resin as took
join work.pour on pour.pour = took.pour
where took.resin is null
