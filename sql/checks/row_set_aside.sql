-- A row that could not be read: it is in no figure until it is mended.
-- @severity warning
select file, sheet, row, occurrence, reason, suggestion from intake.rejected
