-- Scrap that is neither in good pieces nor a loss of its month.
-- @severity error
with moved as (
    select
        month_of(on_date) as month, case when to_place = 'pool' then cents else -cents end as cents
    from cost.trace where item = 'spoilage' and 'pool' in (from_place, to_place)
)

select month, sum(cents) as cents from moved group by month having sum(cents) <> 0
