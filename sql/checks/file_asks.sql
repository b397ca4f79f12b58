-- Something that only you can say; `answer` lists the choices, and the Files page asks.
-- @severity warning
select question, ask, rows, worth_cents from intake.question
