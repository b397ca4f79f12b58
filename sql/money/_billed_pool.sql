-- One row per pool of a monthly amount whose bills are on record: what it owes waits for them.
select distinct item from cost.entry
where place = 'receipt' and other_place = 'setting'
    and row_id not in (select row_id from work.in_count)
