-- One row per record, field and day that it says something happened on; planned days, such as an
-- order's due day, are none.
with days as (
    select 'purchases' as record, row_id, 'date' as field, on_date from records.purchases
    union all by name
    select
        'pieces' as record, row_id, unnest(['started', 'finished', 'ended', 'listed']) as field,
        unnest([started, finished, ended, listed]) as on_date
    from records.pieces
    union all by name
    select 'hours' as record, row_id, 'date' as field, on_date from records.hours
    union all by name
    select 'pours' as record, row_id, 'date' as field, on_date from records.pours
    union all by name
    select 'usage' as record, row_id, 'date' as field, on_date from records.usage
    union all by name
    select 'inspections' as record, row_id, 'date' as field, on_date from records.inspections
    union all by name
    select
        'orders' as record, row_id, unnest(['date', 'cancelled']) as field,
        unnest([on_date, cancelled]) as on_date
    from records.orders
    union all by name
    select 'sales' as record, row_id, 'date' as field, on_date from records.sales
    union all by name
    select 'payments' as record, row_id, 'date' as field, on_date from records.payments
    union all by name
    select 'moves' as record, row_id, 'date' as field, on_date from records.moves
    union all by name
    select 'counts' as record, row_id, 'date' as field, on_date from records.counts
)

select record, row_id, field, on_date from days where on_date is not null
