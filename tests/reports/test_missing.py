"""What is not logged, by how much of the pieces' cost was guessed for want of it."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from pipeline.database import open_newest
from pipeline.reports.check import findings, text
from pipeline.reports.finding import Finding
from pipeline.reports.missing import missing, percent

Published = Callable[..., Path]

MOVE = {"on_date": date(2026, 3, 1), "to_place": "piece", "from_place": "stock", "estimated": False, "assumed": False}
SURE = MOVE | {"row_id": 1, "layer": "wood", "operation": None, "item": "walnut", "cents": 900}


def hours(piece: str, cents: int, operation: str = "sanding") -> dict[str, object]:
    """Hours that nobody logged."""
    gap = {"from_place": "imputed", "layer": "labour", "operation": operation, "item": None, "estimated": True}
    return MOVE | gap | {"row_id": 2, "piece": piece, "cents": cents}


def material(piece: str, layer: str, cents: int, **more: object) -> dict[str, object]:
    return MOVE | {"row_id": 3, "layer": layer, "item": layer, "piece": piece, "cents": cents, "operation": None} | more


def told(published: Published, *moves: dict[str, object]) -> list[Finding]:
    with open_newest(published(cost__movement=list(moves))) as con:
        return list(missing(con))


def test_missing_hours_are_told_with_their_share_of_the_pieces_cost(published: Published) -> None:
    # of 2,500 cents in T-1 and T-2 500 are guessed; T-3 has all its hours and doesn't count
    moves = [SURE | {"piece": piece} for piece in ("T-1", "T-2", "T-3")]
    moves += [hours("T-1", 100), hours("T-2", 400), material("T-1", "finish", 200)]
    assert told(published, *moves) == [
        Finding(
            "warning",
            "estimated",
            "2 pieces lack sanding hours: 20 % of their cost is estimated",
            2,
            500,
            mend="Log the sanding of T-2 first: it would gain the most.",
            pieces=("T-2", "T-1"),
        )
    ]


@pytest.mark.parametrize(
    ("move", "what", "mend"),
    [
        (material("T-1", "wood", 100, estimated=True), "1 piece has no size of the blank", "blank_length"),
        (material("T-1", "wood", 100, assumed=True), "1 piece names no slab", "lot"),
        (material("T-1", "resin", 100, estimated=True), "1 piece shares a pour", "deposited"),
        (material("T-1", "abrasive", 100, estimated=True), "takes abrasive that nobody logged, by sanding", "Count"),
        (material("T-1", "hardware", 100, estimated=True), "takes hardware that nobody logged, by", "Log its usage"),
        (
            MOVE | {"layer": "labour", "cents": 100, "piece": "T-1", "assumed": True},
            "hours that name no person",
            "person",
        ),
    ],
)
def test_each_gap_has_its_words(published: Published, move: dict[str, object], what: str, mend: str) -> None:
    (found,) = told(published, move | {"row_id": 3}, SURE | {"piece": "T-1", "cents": 300})
    guessed = "assumed" if move["assumed"] else "estimated"
    assert what in found.what
    assert found.what.endswith(f": 25 % of their cost is {guessed}")
    assert mend in found.mend
    assert (found.kind, found.cents) == (guessed, 100)


def test_the_item_that_weighs_most_is_named(published: Published) -> None:
    disc = material("T-1", "abrasive", 100, estimated=True, item="disc 120")
    sheet = material("T-1", "abrasive", 300, estimated=True, item="sheet 240")
    (found,) = told(published, disc, sheet)
    assert found.mend == "Count sheet 240 now and then, or log its usage."


def test_what_a_missing_receipt_stands_for_is_told_as_that_alone(published: Published) -> None:
    bought_never = material("T-1", "resin", 400, estimated=True, item="epoxy", row_id=7)
    imputed = {"row_id": 7, "from_place": "imputed", "to_place": "stock", "item": "epoxy", "cents": 400}
    assert told(published, bought_never, MOVE | imputed | {"estimated": True}) == []


def test_the_largest_guess_comes_first_and_what_nobody_can_mend_last(published: Published) -> None:
    overhead = material("T-1", "overhead", 9000, estimated=True, from_place="pool")
    moves = [overhead, hours("T-1", 300), hours("T-1", 500, "carving"), material("T-1", "wood", 400, assumed=True)]
    with open_newest(published(cost__movement=moves)) as con:
        found = findings(con)
    assert [f.cents for f in found] == [500, 400, 300, None]
    lines = list(text(found, 2))
    assert lines[1].startswith("warning  1 piece lacks carving hours: 5 % of their cost is estimated (1, 5.00 rests")
    assert "rests on the first months alone: 88 %" in found[-1].what


@pytest.mark.parametrize(("part", "shown"), [(0.11, "11 %"), (0.004, "under 1 %"), (0.0, "0 %"), (1.0, "100 %")])
def test_a_small_share_is_not_told_as_none(part: float, shown: str) -> None:
    assert percent(part) == shown
