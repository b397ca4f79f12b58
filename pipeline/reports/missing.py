"""What the maker has not logged, by how much of the pieces' cost was guessed at for want of it."""

from collections.abc import Iterator

import duckdb

from pipeline.reports.finding import Finding, rows_of
from pipeline.reports.words import share

GUESSED = """
    with
    moved as (select * replace (into_piece(from_place, to_place, layer, item, cents) as cents) from cost.moved),
    into_pieces as (select * from moved where cents is not null),
    -- what a missing receipt stands for is told as that
    unbought as (select distinct row_id, item from cost.movement where from_place = 'imputed' and item is not null),
    lacking as (select row_id from work.hours_missing union select row_id from work.machine_missing),
    unweighed as (select row_id from work.pour where mix_estimated),
    guessed as (
        select
            moves.*,
            case when estimated and layer in ('labour', 'overhead', 'machine')
                      and row_id in (from lacking) then 'hours'
                 when estimated and from_place = 'imputed' then 'hours'
                 when estimated and layer in ('overhead', 'machine') then 'first months'
                 when estimated and exists (
                     select 1 from work.use_missing as lacks
                     where lacks.row_id = moves.row_id and lacks.flow = moves.item
                 ) then 'not logged'
                 when estimated and row_id in (from unweighed) then 'weights'
                 when estimated then 'quantity'
                 when row_id in (from work.open_row) or paid_row_id in (from work.open_row) then 'question'
                 when layer in ('labour', 'overhead', 'machine') and exists (
                     select 1 from work.hours_piece as share
                     where share.row_id = moves.row_id and share.assumed
                 ) then 'whose hours'
                 when layer in ('labour', 'overhead', 'machine') then 'who worked'
                 else 'which lot' end as want
        from into_pieces as moves
        where (estimated or assumed) and not exists (
            select 1 from unbought where unbought.item = moves.item and unbought.row_id = moves.row_id and estimated
        )
    ),
    of_piece as (
        select
            want,
            case when want = 'hours' then operation
                 when want = 'not logged' then item
                 when want = 'quantity' then layer
                 else '' end as what,
            piece, sum(cents) as cents
        from guessed group by all
    ),
    wants as (
        select
            want, what, count(*) as pieces, sum(cents)::bigint as cents, list(piece order by cents desc, piece) as tags
        from of_piece group by want, what
    ),
    items as (
        select layer as what, item, sum(cents) as cents
        from guessed where want = 'quantity' and item is not null group by layer, item
    ),
    largest as (select what, arg_max(item, cents) as item from items group by what),
    costs as (select piece, sum(cents) as cents from into_pieces group by piece)
    select
        wants.want, wants.what, wants.pieces, wants.cents, wants.tags, largest.item,
        any_value(wants.cents) / nullif(sum(costs.cents), 0) as part
    from wants
    join costs on list_contains(wants.tags, costs.piece)
    left join largest on largest.what = wants.what and wants.want = 'quantity'
    group by wants.want, wants.what, wants.pieces, wants.cents, wants.tags, largest.item
    order by wants.cents desc, wants.want, wants.what
"""

SPREAD_BY = {"abrasive": "sanding hours", "finish": "surface, or number of units", "consumable": "bench hours"}
"""How what nobody logged is shared out over the pieces, by layer: by units where no piece has a size."""


def missing(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    """A finding for each kind of record whose lack makes the cost of pieces a guess."""
    for row in rows_of(con, GUESSED):
        tags = tuple(row["tags"])
        what, mend = _told(row["want"], row["what"], row["pieces"], tags[0], row["item"])
        guessed = "assumed" if row["want"] in ("whose hours", "who worked", "which lot", "question") else "estimated"
        part = f": {percent(row['part'])} of their cost is {guessed}" if row["part"] is not None else ""
        # what nobody can mend must not stand before what one can
        cents = None if row["want"] == "first months" else row["cents"]
        yield Finding("warning", guessed, what + part, row["pieces"], cents, mend=mend, pieces=tags)


def percent(part: float) -> str:
    """A share for a sentence: one that rounds to nothing is not nothing."""
    return "under 1 %" if 0 < part < 0.005 else share(part)


def _told(want: str, what: str, pieces: int, most: str, item: str | None) -> tuple[str, str]:
    """What is missing, and what would mend it."""
    have, name = _some(pieces, "has", "have"), _some(pieces, "names", "name")
    if want == "hours":
        return (
            f"{_some(pieces, 'lacks', 'lack')} {what} hours",
            f"Log the {what} of {most} first: it would gain the most.",
        )
    if want == "question":
        rest = _some(pieces, "rests", "rest")
        return (
            f"{rest} on files with a question that is open",
            "Answer it, on the Files page or with: kerfledger answer",
        )
    if want == "whose hours":
        takes = _some(pieces, "takes", "take")
        return f"{takes} hours that name no piece", f"Name the pieces in the hours; {most} would gain the most."
    if want == "who worked":
        takes = _some(pieces, "takes", "take")
        return f"{takes} hours that name no person", f"Fill the person of the hours; {most} would gain the most."
    if want == "not logged":
        what_it_is = f"{_some(pieces, 'lacks', 'lack')} {what}, which nearly all like it have"
        return what_it_is, f"Log the {what} of {most} first; where there is none, log 0."
    if want == "weights":
        poured = _some(pieces, "takes", "take")
        return (
            f"{poured} a pour that nobody weighed, as much as is usual",
            f"Fill the parts of the pour of {most} first.",
        )
    if want == "which lot":
        return f"{name} no slab", f"Fill the lot of the piece; {most} would gain the most."
    if want == "first months":
        carry = _some(pieces, "carries", "carry")
        return (
            f"{carry} rent, power or machine time at a rate that rests on the first months alone",
            "This passes with time; pieces made since are not touched by it.",
        )
    if what == "wood":
        return f"{have} no size of the blank", f"Fill blank_length, blank_width and blank_thickness of {most} first."
    if what in ("resin", "resin waste", "colourant"):
        share_in = _some(pieces, "shares", "share")
        mend = f"Fill `deposited` in the pours; {most} would gain the most."
        return f"{share_in} a pour that does not say how much {what} went into each piece", mend
    takes, by = _some(pieces, "takes", "take"), SPREAD_BY.get(what, "what is usual")
    # a count tells how much of it all pieces took, and not how much each did
    mend = f"Log its usage: how much {item or what} goes into each."
    if what not in ("finish", "hardware"):
        mend = f"Count {item or what} now and then, or log its usage."
    return f"{takes} {what} that nobody logged, by {by}", mend


def _some(number: int, one: str, many: str) -> str:
    return f"{number:,} piece {one}" if number == 1 else f"{number:,} pieces {many}"
