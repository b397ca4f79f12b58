"""What the maker has not logged, by how much of the pieces' cost was guessed at for want of it."""

from collections.abc import Iterator

import duckdb

from pipeline.reports.finding import Finding, rows_of
from pipeline.reports.words import share

GUESSED = """
    with
    moved as (select * replace (into_piece(from_place, to_place, layer, item, cents) as cents) from cost.trace),
    into_pieces as (select * from moved where cents is not null),
    -- what a missing receipt stands for is told as that
    unbought as (select distinct row_id, item from cost.trace where from_place = 'imputed' and item is not null),
    guessed as (
        select
            moves.*,
            case when estimated and from_place = 'imputed' then 'hours'
                 when estimated and layer in ('overhead', 'machine') then 'first months'
                 when estimated then 'quantity'
                 when layer = 'labour' then 'whose hours'
                 else 'which lot' end as want
        from into_pieces as moves
        where (estimated or assumed) and not exists (
            select 1 from unbought where unbought.item = moves.item and unbought.row_id = moves.row_id and estimated
        )
    ),
    wants as (
        select
            want, case when want = 'hours' then operation when want = 'quantity' then layer else '' end as what,
            count(distinct piece) as pieces, sum(cents)::bigint as cents, list(distinct piece) as tags,
            arg_max(piece, cents) as most
        from guessed group by all
    ),
    items as (
        select layer as what, item, sum(cents) as cents
        from guessed where want = 'quantity' and item is not null group by layer, item
    ),
    largest as (select what, arg_max(item, cents) as item from items group by what),
    costs as (select piece, sum(cents) as cents from into_pieces group by piece)
    select
        wants.want, wants.what, wants.pieces, wants.cents, wants.most, largest.item,
        any_value(wants.cents) / nullif(sum(costs.cents), 0) as part
    from wants
    join costs on list_contains(wants.tags, costs.piece)
    left join largest on largest.what = wants.what and wants.want = 'quantity'
    group by wants.want, wants.what, wants.pieces, wants.cents, wants.most, largest.item
    order by wants.cents desc, wants.want, wants.what
"""

SPREAD_BY = {"abrasive": "sanding hours", "finish": "their surface", "consumable": "bench hours"}
"""How what nobody logged is shared out over the pieces, by layer."""


def missing(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    """A finding for each kind of record whose lack makes the cost of pieces a guess."""
    for row in rows_of(con, GUESSED):
        what, mend = _told(row["want"], row["what"], row["pieces"], row["most"], row["item"])
        guessed = "assumed" if row["want"] in ("whose hours", "which lot") else "estimated"
        part = f": {percent(row['part'])} of their cost is {guessed}" if row["part"] is not None else ""
        # what nobody can mend must not stand before what one can
        cents = None if row["want"] == "first months" else row["cents"]
        yield Finding("warning", guessed, what + part, row["pieces"], cents, mend=mend)


def percent(part: float) -> str:
    """A share for a sentence: one that rounds to nothing is not nothing."""
    return "under 1 %" if 0 < part < 0.005 else share(part)


def _told(want: str, what: str, pieces: int, most: str, item: str | None) -> tuple[str, str]:
    """What is missing, and what would mend it."""
    have, name = _some(pieces, "has", "have"), _some(pieces, "names", "name")
    if want == "hours":
        return f"{have} no {what} hours", f"Log the {what} of {most} first: it would gain the most."
    if want == "whose hours":
        takes = _some(pieces, "takes", "take")
        return f"{takes} hours that name no piece", f"Name the pieces in the hours; {most} would gain the most."
    if want == "which lot":
        return f"{name} no slab", f"Fill the lot of the piece; {most} would gain the most."
    if want == "first months":
        carry = _some(pieces, "carries", "carry")
        return (
            f"{carry} overhead or machine time at a rate that rests on the first months alone",
            "This passes with time; pieces made since are not touched by it.",
        )
    if what == "wood":
        return f"{have} no size of the blank", f"Fill blank_length, blank_width and blank_thickness of {most} first."
    if what in ("resin", "resin waste", "colourant"):
        share_in = _some(pieces, "shares", "share")
        mend = f"Fill `deposited` in the pours; {most} would gain the most."
        return f"{share_in} a pour that does not say how much {what} went into each piece", mend
    takes, by = _some(pieces, "takes", "take"), SPREAD_BY.get(what, "what is usual")
    return f"{takes} {what} that nobody logged, by {by}", f"Count {item or what} now and then, or log its usage."


def _some(number: int, one: str, many: str) -> str:
    return f"{number:,} piece {one}" if number == 1 else f"{number:,} pieces {many}"
