-- Rows of a file that are neither loaded, twin, set aside nor ignored: something was lost in
-- reading.
-- @severity error
select file, sheet, rows, loaded, duplicate, set_aside, ignored from intake.file
where rows <> loaded + duplicate + set_aside + ignored
