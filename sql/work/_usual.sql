-- One row per piece and thing that ought to be there: what most comparable pieces have of it, for
-- the piece's size. Comparable are finished pieces of its product, at least three, more than half
-- of which have the operation, or three quarters the resin or the item: a coat may be as one
-- likes. An operation that three quarters of a shop of twenty pieces have counts as if two more of
-- the product had it, however few there are. Where finish and wood have a bearing, the pieces of
-- the product in that finish, and of those the ones of that wood, say it, each as if the wider
-- group were four pieces of it. What is usual is the middle one of their amounts by surface, times
-- the piece's own; by unit for fittings, and where the piece's size, or all of theirs, is unknown.
-- @key piece, want, name, part
with pieces as (
    select
        piece, product, coalesce(finish, '') as finish, coalesce(species, '') as species, units,
        status = 'finished' as model, case when area_mm2 > 0 then area_mm2 end as area_mm2
    from work.piece where not opening
),

models as (
    select *, product as circle from pieces where model
    union all by name
    -- the empty circle is the whole shop
    select *, '' as circle from pieces
    where model and (select count(*) from pieces where model) >= 20
),

counts as (
    select
        circle, grouping_id(finish, species) as level, finish, species, count(*) as pieces
    from models
    group by circle, grouping sets ((), (finish), (finish, species))
),

rates as (
    select
        models.circle, models.finish, models.species, had.want, had.name, had.part,
        had.bears, had.records,
        case when had.by_size and models.area_mm2 is not null
             then cast(had.amount as hugeint) * 1000000000000 // models.area_mm2 end as by_surface,
        cast(had.amount as hugeint) * 1000000000000 // models.units as by_unit
    from work._had as had
    join models on models.piece = had.piece
    where models.circle <> '' or had.want = 'work'
),

middle as (
    select
        circle, grouping_id(finish, species) as level, finish, species, want, name, part,
        any_value(bears) as bears, count(*) as pieces,
        quantile_disc(records, 0.5) as records,
        cast(quantile_disc(by_surface, 0.5) as hugeint) as by_surface,
        cast(quantile_disc(by_unit, 0.5) as hugeint) as by_unit
    from rates
    group by circle, want, name, part, grouping sets ((), (finish), (finish, species))
),

of_product as (select * from middle where circle <> '' and level = 3),

of_shop as (
    select middle.*
    from middle
    join counts on counts.circle = '' and counts.level = 3
    where middle.circle = '' and middle.level = 3 and 4 * middle.pieces >= 3 * counts.pieces
),

things as (
    select circle, want, name, part from of_product
    union
    select counts.circle, of_shop.want, of_shop.name, of_shop.part
    from counts
    cross join of_shop
    where counts.circle <> ''
),

known as (
    select
        things.circle, things.want, things.name, things.part,
        coalesce(own.bears, shop.bears) as bears, coalesce(own.records, 1) as records,
        drawn_to(
            own.by_surface, own.pieces, shop.by_surface, greatest(8 - own.pieces, 0)
        ) as by_surface,
        drawn_to(own.by_unit, own.pieces, shop.by_unit, greatest(8 - own.pieces, 0)) as by_unit,
        coalesce(own.pieces, 0) + case when shop.want is null then 0 else 2 end as have,
        counts.pieces + case when shop.want is null then 0 else 2 end as of_all
    from things
    join counts on counts.circle = things.circle and counts.level = 3
    left join of_product as own
        on own.circle = things.circle and own.want = things.want and own.name = things.name
        and own.part = things.part
    left join of_shop as shop
        on shop.want = things.want and shop.name = things.name and shop.part = things.part
),

wide as (
    select pieces.*, known.* exclude (circle), known.circle
    from pieces
    join known on known.circle = pieces.product
    where known.of_all >= 3
),

-- each narrower group as if the wider one were four pieces of it
by_finish as (
    select
        wide.* replace (
            coalesce(middle.pieces, 0) * wide.of_all + 4 * wide.have as have,
            (coalesce(counts.pieces, 0) + 4) * wide.of_all as of_all,
            drawn_to(middle.by_surface, middle.pieces, wide.by_surface, 4) as by_surface,
            drawn_to(middle.by_unit, middle.pieces, wide.by_unit, 4) as by_unit
        )
    from wide
    left join counts
        on counts.circle = wide.circle and counts.level = 1 and counts.finish = wide.finish
        and wide.finish <> ''
    left join middle
        on middle.circle = wide.circle and middle.level = 1 and middle.finish = wide.finish
        and wide.finish <> ''
        and middle.want = wide.want and middle.name = wide.name and middle.part = wide.part
    where wide.bears
),

by_wood as (
    select
        wide.* replace (
            coalesce(middle.pieces, 0) * wide.of_all + 4 * wide.have as have,
            (coalesce(counts.pieces, 0) + 4) * wide.of_all as of_all,
            drawn_to(middle.by_surface, middle.pieces, wide.by_surface, 4) as by_surface,
            drawn_to(middle.by_unit, middle.pieces, wide.by_unit, 4) as by_unit
        )
    from by_finish as wide
    left join counts
        on counts.circle = wide.circle and counts.level = 0 and counts.finish = wide.finish
        and counts.species = wide.species and wide.species <> ''
    left join middle
        on middle.circle = wide.circle and middle.level = 0 and middle.finish = wide.finish
        and middle.species = wide.species and wide.species <> ''
        and middle.want = wide.want and middle.name = wide.name and middle.part = wide.part
),

told as (
    select * from wide where not bears
    union all by name
    select * from by_wood
),

sized as (
    select
        piece, circle, want, name, part, records,
        case when by_surface is not null and area_mm2 is not null
             then cut(by_surface, area_mm2, 1000000000000)
             else cut(by_unit, units, 1000000000000) end as amount
    from told
    where case when want in ('item', 'resin') then 4 * have >= 3 * of_all
               else 2 * have > of_all end
)

select
    piece, circle, want, name, part, cast(records as bigint) as records,
    cast(amount as bigint) as amount
from sized where amount > 0
