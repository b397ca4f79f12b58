-- One row per month and month compared with: the difference in result in one sentence, with its two largest causes each way.
-- A second sentence leads from it to the difference in what was left for the owners' pay, which an hour's pay is made of: that
-- is the result with the own pay that it counts added back.
-- @key month, against
-- @check owners_difference_cents = difference_cents + own_pay_difference_cents
with parts as (select * from money.bridge),

words as (
    select
        unnest(['price', 'volume', 'mix', 'wage', 'hours', 'material price', 'yield', 'overhead in pieces', 'fees', 'other hours', 'not absorbed', 'losses', 'write-downs', 'rest']) as part,
        unnest(['higher prices for their size', 'more or larger pieces sold', 'products that leave more', 'lower wages in what was sold', 'fewer hours in what was sold', 'cheaper material', 'less material in what was sold',
            'less rent and machine in what was sold', 'lower selling costs', 'fewer hours without a piece', 'less rent and machine left idle', 'smaller losses', 'smaller write-downs', 'other lines']) as better,
        unnest(['lower prices for their size', 'fewer or smaller pieces sold', 'products that leave less', 'higher wages in what was sold', 'more hours in what was sold', 'dearer material', 'more material in what was sold',
            'more rent and machine in what was sold', 'higher selling costs', 'more hours without a piece', 'more rent and machine left idle', 'bigger losses', 'bigger write-downs', 'other lines']) as worse
),

digits as (select minor_of(currency) as minor, currency from settings.shop),

told as (
    select
        parts.month, parts.against, parts.other_month, parts.cents, parts.result_cents - parts.other_result_cents as difference_cents,
        case when parts.cents > 0 then words.better else words.worse end as cause,
        case when parts.cents > 0 then words.better else words.worse end || ' (' || case when parts.cents > 0 then '+' else '−' end
            || said(abs(parts.cents), digits.minor) || ')' as words,
        -- what pulls the way the month went comes first
        row_number() over (
            partition by parts.month, parts.against, sign(parts.cents) = sign(parts.result_cents - parts.other_result_cents) order by abs(parts.cents) desc, parts.part_number
        ) as place,
        sign(parts.cents) = sign(parts.result_cents - parts.other_result_cents) as along, digits.minor, digits.currency
    from parts
    join words on words.part = parts.part
    cross join digits
    where parts.cents <> 0
),

gathered as (
    select
        month, against, any_value(other_month) as other_month, any_value(difference_cents) as difference_cents,
        any_value(cause) filter (where along and place = 1) as main_cause,
        string_agg(words, ' and ' order by place) filter (where along and place <= 2) as along_words,
        string_agg(words, ' and ' order by place) filter (where not along and place <= 2) as counter_words, any_value(minor) as minor, any_value(currency) as currency
    from told group by month, against
),

months as (select month, result_cents, owners_result_cents, owners_result_cents - result_cents as own_pay_cents from money.month),

owners as (
    select
        gathered.month, gathered.against,
        cast(now.owners_result_cents - past.owners_result_cents as bigint) as owners_difference_cents, cast(now.own_pay_cents - past.own_pay_cents as bigint) as own_pay_difference_cents,
        'What was left for the owners'' pay is the result with the own pay counted in it added back: '
            || said(past.result_cents, minor) || ' + ' || said(past.own_pay_cents, minor) || ' = ' || said(past.owners_result_cents, minor) || ' ' || currency || ' in ' || strftime(past.month, '%B %Y')
            || ', ' || said(now.result_cents, minor) || ' + ' || said(now.own_pay_cents, minor) || ' = ' || said(now.owners_result_cents, minor) || ' in ' || strftime(now.month, '%B %Y')
            || '. From one to the other it is ' || said(abs(now.owners_result_cents - past.owners_result_cents), minor) || case when now.owners_result_cents < past.owners_result_cents then ' less' else ' more' end
            || ': ' || said(abs(now.result_cents - past.result_cents), minor) || case when now.result_cents < past.result_cents then ' less' else ' more' end || ' in the result, '
            || said(abs(now.own_pay_cents - past.own_pay_cents), minor) || case when now.own_pay_cents < past.own_pay_cents then ' less' else ' more' end || ' in the own pay counted.' as owners_sentence
    from gathered
    join months as now on now.month = gathered.month
    join months as past on past.month = gathered.other_month
    where now.own_pay_cents <> 0 or past.own_pay_cents <> 0
)

select
    gathered.month, gathered.against, other_month, difference_cents, main_cause, owners_difference_cents, own_pay_difference_cents, owners_sentence,
    strftime(gathered.month, '%B %Y') || case when whole.whole then '' else ' so far' end || ' made ' || said(abs(difference_cents), minor) || ' ' || currency
        || case when difference_cents = 0 then ' more or less than ' when difference_cents > 0 then ' more than ' else ' less than ' end || strftime(other_month, '%B %Y')
        || coalesce(', mainly by ' || along_words, '') || coalesce('; against that stood ' || counter_words, '') || '.' as sentence
from gathered
left join owners on owners.month = gathered.month and owners.against = gathered.against
left join work.month as whole on whole.month = gathered.month
