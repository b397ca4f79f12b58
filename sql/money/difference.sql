-- One row per part that the difference between two months' results is split into, in their order:
-- its names, and its lines.
-- The one list of them: `money.bridge` gives each its cents, sentences say `better` or `worse` of
-- it, and the page opens the records of both months behind `result_lines`, of `result_layers` alone
-- where there are some.
-- @key part
with materials as (
    select list(layer order by position) as layers from settings.layer
    where cost_group in ('wood', 'resin', 'supplies')
),

parts (number, part, part_name, better, worse, result_lines, layers, part_meaning) as (
    values (
        1, 'price', 'Prices', 'higher prices for their size', 'lower prices for their size',
        ['revenue', 'refunds'], [],
        'What was sold brought more or less than at the other month''s prices, size for size.'
    ), (
        2, 'volume', 'How much was sold',
        'more or larger pieces sold', 'fewer or smaller pieces sold',
        ['revenue', 'refunds'], [],
        'More or fewer pieces were sold, or larger or smaller ones, each leaving what pieces left '
            || 'in the other month. Counted by what they brought.'
    ), (
        3, 'mix', 'What kinds were sold', 'products that leave more', 'products that leave less',
        ['revenue', 'refunds', 'cost of sales'], [],
        'Other kinds of pieces were sold, which leave more or less of their price. '
            || 'The trade calls it the mix. Counted by what they brought.'
    ), (
        4, 'wage', 'Pay for an hour',
        'lower wages in what was sold', 'higher wages in what was sold',
        ['cost of sales'], ['labour'],
        'An hour of the work in what was sold cost more or less.'
    ), (
        5, 'hours', 'Hours in pieces',
        'fewer hours in what was sold', 'more hours in what was sold',
        ['cost of sales'], ['labour'],
        'What was sold took more or fewer hours.'
    ), (
        6, 'material price', 'Material prices', 'cheaper material', 'dearer material',
        ['cost of sales'], ['material'],
        'The material in what was sold was dearer or cheaper.'
    ), (
        7, 'yield', 'Material in pieces',
        'less material in what was sold', 'more material in what was sold',
        ['cost of sales'], ['material'],
        'What was sold took more or less material, size for size: waste, offcuts, rests in '
            || 'cups. The trade calls it yield.'
    ), (
        8, 'overhead in pieces', 'Rent in pieces',
        'less rent and machine in what was sold', 'more rent and machine in what was sold',
        ['cost of sales'], ['overhead', 'machine'],
        'What was sold bears more or less rent, power and machine time.'
    ), (
        9, 'fees', 'Selling', 'lower selling costs', 'higher selling costs',
        ['selling'], [],
        'Fees, postage, booths, packaging, advertising and gifts.'
    ), (
        10, 'other hours', 'Other hours',
        'fewer hours without a piece', 'more hours without a piece',
        ['other hours'], [],
        'Hours of no piece: market, office, cleaning, and bench hours that name no piece.'
    ), (
        11, 'not absorbed', 'Idle rent, machines',
        'less rent and machine left idle', 'more rent and machine left idle',
        ['not absorbed'], [],
        'Rent, power and machines of the month that no piece bears: they stood idle.'
    ), (
        12, 'losses', 'Losses', 'smaller losses', 'bigger losses',
        ['losses'], [],
        'Scrap beyond the usual, waste and shortages.'
    ), (
        13, 'write-downs', 'Write-downs', 'smaller write-downs', 'bigger write-downs',
        ['write-downs'], [],
        'Unsold pieces that will bring less than they cost, or will again bring more.'
    ), (
        14, 'rest', 'All else', 'other lines', 'other lines',
        ['other income', 'other costs'], [],
        'Other income, other costs, and what was found later about closed months.'
    )
)

select
    cast(number as bigint) as part_number, part, part_name, better, worse, result_lines,
    case when parts.layers = ['material'] then materials.layers
         else cast(parts.layers as varchar[]) end as result_layers,
    part_meaning
from parts
cross join materials
