-- One row per purchase line with its landed cost: the line and its share of the receipt's freight,
-- tax and discount. They are summed over the receipt's rows and spread over its positive lines by
-- amount (over all lines where none is positive, equally where all are zero), in the order of day,
-- item, category, quantity and amount. Tax that comes back is no cost. Tax and discount that several
-- lines of a receipt state are each line's own; only freight, and what one line alone states for
-- all, is shared.
-- @key row_id
with stated as (
    select
        purchases.*, coalesce(receipt || '/' || coalesce(supplier, ''), 'row ' || row_id) as paper,
        case when rule.tax_reclaimable then 0 else coalesce(tax_cents, 0) end as taxed_cents,
        count(tax_cents) over (partition by receipt, supplier) > 1 as own_tax,
        count(discount_cents) over (partition by receipt, supplier) > 1 as own_discount
    from records.purchases
    asof left join (select from_date, tax_reclaimable from settings.rule) as rule
        on rule.from_date <= purchases.on_date
),

lines as (
    select
        *,
        case when own_tax then taxed_cents else 0 end
            - case when own_discount then coalesce(discount_cents, 0) else 0 end as own_cents,
        coalesce(freight_cents, 0) + taxed_cents - coalesce(discount_cents, 0) - own_cents
            as extra_cents
    from stated
),

weighed as (
    select
        *,
        sum(extra_cents) over (partition by paper) as paper_extra_cents,
        case when max(amount_cents) over (partition by paper) > 0 then greatest(amount_cents, 0)
             when min(amount_cents) over (partition by paper) < 0 then -amount_cents
             else 1 end as weight
    from lines
),

running as (
    select
        *,
        sum(weight) over (
            partition by paper
            order by
                on_date, item, category, quantity, amount_cents, lot, species, machine, event, pool,
                returns, row_id
        ) as to_weight,
        sum(weight) over (partition by paper) as all_weight
    from weighed
)

select
    row_id, on_date, receipt, item, category, lot, species, machine, event, pool, covers, quantity,
    amount_cents,
    cast(
        amount_cents + own_cents
            + share(paper_extra_cents, to_weight - weight, to_weight, all_weight) as bigint
    ) as cents
from running
