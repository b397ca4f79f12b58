-- One row per receipt that belongs to a machine or a pool: the one in its cell, for a tool that names
-- none the pool `tools`, and for an overhead that names none the one that its item, else its supplier,
-- is called or has among its words (assumed). Where two fit alike, none is taken.
-- `source` is where the pool's cost comes from: with a monthly amount the receipt only pays for it.
-- @key row_id
with names as (
    select name, 'overhead' as kind, min(source) as source from settings.pool group by name
    union all by name
    select distinct name, 'machine' as kind, 'receipts' as source from settings.machine
),

bills as (
    select row_id, category, item, supplier, machine, pool
    from records.purchases where category in ('tool', 'overhead')
),

told as (
    select bills.row_id, names.name as pool, names.kind, names.source, false as assumed
    from bills
    join names
        on names.kind = 'machine' and names.name = bills.machine
        or names.kind = 'overhead'
        and names.name = coalesce(bills.pool, case when bills.category = 'tool' then 'tools' end)
    qualify row_number() over (partition by bills.row_id order by names.kind) = 1
),

words as (
    select
        row_id, unnest([1, 2]) as turn,
        unnest([
            regexp_replace(lower(' ' || item || ' '), '[^\p{L}\p{N}]+', ' ', 'g'),
            regexp_replace(lower(' ' || supplier || ' '), '[^\p{L}\p{N}]+', ' ', 'g')
        ]) as text
    from bills where category = 'overhead' and pool is null and machine is null
),

called as (
    select *, regexp_replace(lower(' ' || name || ' '), '[^\p{L}\p{N}]+', ' ', 'g') as text
    from names
),

fitting as (
    select
        words.row_id, called.name as pool, called.kind, called.source,
        rank() over (
            partition by words.row_id
            order by words.text <> called.text, words.turn, length(called.text) desc
        ) as place
    from words
    join called on contains(words.text, called.text)
),

guessed as (
    select row_id, any_value(pool) as pool, any_value(kind) as kind, any_value(source) as source
    from fitting where place = 1
    group by row_id having count(*) = 1
)

select row_id, pool, kind, source, assumed from told
union all by name
select row_id, pool, kind, source, true as assumed from guessed
where row_id not in (select row_id from told)
