-- A receipt whose lines don't add up to the total on it.
-- @severity warning
with papers as (
    select
        receipt, supplier, max(total_cents) as total,
        sum(
            amount_cents + coalesce(freight_cents, 0) + coalesce(tax_cents, 0)
            - coalesce(discount_cents, 0)
        ) as lines
    from records.purchases where receipt is not null group by receipt, supplier
)

select receipt, supplier, total, lines from papers where total is not null and total <> lines
