-- One row per pool of a monthly amount whose bills are on record: what it owes waits for them.
select distinct item from cost.movement
where 'receipt' in (from_place, to_place) and 'setting' in (from_place, to_place)
    and row_id not in (select row_id from work.in_count)
