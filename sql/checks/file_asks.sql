-- A file that can be read two ways; `check` names the field, what is taken meanwhile, and where to say it.
-- @severity warning
select file, sheet, record, field, code, rows from intake.question
