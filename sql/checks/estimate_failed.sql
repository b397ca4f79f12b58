-- An estimate could not be worked out: its tables are empty, and all other figures stand. Your
-- files are not at fault; report it with what is named here.
-- @severity warning
select estimate, fault from intake.failed_estimate
