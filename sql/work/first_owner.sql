-- One row with who works where nobody is named: the shop's first owner or partner, else its first person.
-- None for a shop without people.
-- @check name is not null
select name from settings.person_rate order by role = 'employee', position, row_id limit 1
