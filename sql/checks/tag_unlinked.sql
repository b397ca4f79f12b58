-- A tag that leads to no piece or lot on record.
-- @severity warning
select record, field, tag, count(*) as rows from intake.unlinked group by record, field, tag
