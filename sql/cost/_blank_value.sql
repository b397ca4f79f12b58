-- One row per blank of a slab whose blanks all have a value: what it is worth, and what it takes of
-- the cost of all that was cut from the slab.
-- What is cut is told by volume, kerf and the rest of the slab staying with it; who bears how much
-- of that goes by value, as a joint cost goes by what its products would sell for (26 CFR 1.471-7).
-- @key lot_id, use_id
with blanks as (
    select
        flow.lot_id, flow.use_id, piece.piece,
        pieces.blank_value_cents * piece.units as value_cents,
        share(lot.cents, flow.from_quantity, flow.to_quantity, lot.quantity) as volume_cents
    from work.flow
    -- what was taken of the slab without a blank has no value
    join work.use on use.use_id = flow.use_id and use.source in ('blank', 'usage')
    join cost._lot as lot on lot.lot_id = flow.lot_id and lot.category = 'wood'
    left join work.piece on piece.row_id = use.row_id
    left join records.pieces on pieces.row_id = use.row_id
),

valued as (
    select
        *, sum(volume_cents) over slab as all_cents, sum(value_cents) over slab as all_value,
        sum(value_cents) over (
            partition by lot_id order by piece nulls last rows unbounded preceding
        ) as to_value
    from blanks
    window slab as (partition by lot_id)
    qualify count(*) over slab = count(*) filter (where value_cents > 0) over slab
)

select
    lot_id, use_id, cast(value_cents as bigint) as value_cents,
    cast(share(all_cents, to_value - value_cents, to_value, all_value) as bigint) as cents
from valued
