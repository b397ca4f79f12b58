-- One row per record of a table in which a column of money, a quantity or a sign is still asked
-- about: it counts with what is known of it, and is not called logged until that is answered.
-- @key row_id
with asked as (
    select distinct places.file, places.sheet
    from intake.question_file as places
    join intake.question on question.question = places.question
    where question.holds = 'money'
)

select distinct rows.row_id
from intake.row as rows
join asked on asked.file = rows.file and asked.sheet = rows.sheet
where rows.state = 'loaded'
