-- One row per channel with sales for which no file states a tax and no rate is set, in a regime that
-- has one.
-- @key channel
select sales.channel, count(*) as sales, min(sales.on_date) as first_on
from records.sales
asof join settings.rule on rule.from_date <= sales.on_date
asof left join settings.channel as channel
    on channel.name = sales.channel and channel.from_date <= sales.on_date
where rule.tax_regime in ('sales tax', 'vat') and sales.sales_tax_cents is null
    and coalesce(sales.quantity, 1) > 0 and coalesce(channel.tax_by, 'us') = 'us'
group by sales.channel
