-- A purchase line whose cents did not all leave its receipt.
-- @severity error
with traced as (
    select row_id, -sum(cents) as cents from cost.moved_entry where place = 'receipt' group by row_id
),

lines as (
    select
        coalesce(receipt || '/' || coalesce(supplier, ''), 'row ' || purchases.row_id) as paper,
        purchases.row_id,
        amount_cents + coalesce(freight_cents, 0) - coalesce(discount_cents, 0)
        + case when rule.tax_reclaimable then 0 else coalesce(tax_cents, 0) end as cents
    from records.purchases asof left join settings.rule on rule.from_date <= purchases.on_date
)

select paper, sum(lines.cents) as on_paper, coalesce(sum(traced.cents), 0) as traced
from lines left join traced on traced.row_id = lines.row_id
group by paper having sum(lines.cents) <> coalesce(sum(traced.cents), 0)
