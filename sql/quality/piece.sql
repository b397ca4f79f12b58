-- One row per judged piece and factor: the level it belongs to, and whether it came back or was
-- scrapped.
-- Open the pieces behind a rate here. What is not on record is the level `unknown`; a practice
-- without a reading, and the coat of a piece without a pour, is left out. What is `young` is shown
-- and not counted.
-- @key piece, factor
with outcomes as (select * from quality._outcome),

levels as (
    select piece, 'shop' as factor, 'all' as level from outcomes
    union all select piece, 'species', coalesce(species, 'unknown') from outcomes
    union all select piece, 'finish', coalesce(finish, 'unknown') from outcomes
    union all
    select
        piece, 'species × finish',
        coalesce(species, 'unknown') || ' × ' || coalesce(finish, 'unknown')
    from outcomes
    union all select piece, 'product', coalesce(product, 'unknown') from outcomes
    union all select piece, 'coat', cast(coat as varchar) from outcomes where coat is not null
    union all select piece, 'pore_structure', coalesce(pore_structure, 'unknown') from outcomes
    union all select piece, 'supplier', coalesce(supplier, 'unknown') from outcomes
    union all
    select piece, 'off_ratio', case when off_ratio then 'yes' else 'no' end
    from outcomes where off_ratio is not null
    union all
    select piece, 'short_stir', case when short_stir then 'yes' else 'no' end
    from outcomes where short_stir is not null
    union all
    select piece, 'early_touch', case when early_touch then 'yes' else 'no' end
    from outcomes where early_touch is not null
    union all
    select piece, 'cold', case when cold then 'yes' else 'no' end
    from outcomes where cold is not null
    union all
    select piece, 'damp', case when damp then 'yes' else 'no' end
    from outcomes where damp is not null
    union all
    select piece, 'wet_wood', case when wet_wood then 'yes' else 'no' end
    from outcomes where wet_wood is not null
    union all
    select piece, 'unsealed', case when unsealed then 'yes' else 'no' end
    from outcomes where unsealed is not null
)

select
    levels.piece, outcomes.month, levels.factor, levels.level, outcomes.reworked, outcomes.scrapped,
    outcomes.defects, outcomes.rework_cents, outcomes.scrap_cents, outcomes.young
from levels
join outcomes on outcomes.piece = levels.piece
