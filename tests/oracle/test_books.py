"""The published trace against the slow oracle, on random shops: to the cent, by piece and layer, by place and day."""

import tempfile
from collections import defaultdict
from datetime import date
from pathlib import Path
from random import Random

import duckdb
import pytest
from books import Books
from books_sums import shares
from hypothesis import given, settings
from shops import MadeShop, draw_shop, linked, made_shops, rows_of, run, write

from pipeline.database import open_newest
from pipeline.refresh.refresh import refresh
from pipeline.shop import load

few = settings(settings.get_profile("oracle"))

Sums = dict[tuple[str, object], int]


def both(shop: MadeShop) -> tuple[Books, duckdb.DuckDBPyConnection]:
    with tempfile.TemporaryDirectory() as folder:
        found = linked(shop, Path(folder))
    return Books(*rows_of(found)), run(found)


def published_by_piece(con: duckdb.DuckDBPyConnection) -> Sums:
    rows = con.execute(
        "select piece, layer, sum(case when to_place = 'piece' then cents else -cents end)::bigint from cost.trace"
        # less what was saved from it; what only takes back a part of its leaving is no cost that went in
        " where from_place = 'piece' and to_place = 'stock' or to_place = 'piece' and case from_place"
        " when 'pool' then item <> 'spoilage' or layer = 'spoilage'"
        " else from_place not in ('sold', 'waste', 'own use', 'period') end"
        " group by all having sum(case when to_place = 'piece' then cents else -cents end) <> 0"
    ).fetchall()
    return {(piece, layer): cents for piece, layer, cents in rows}


def published_by_day(con: duckdb.DuckDBPyConnection) -> Sums:
    rows = con.execute(
        "select place, on_date, sum(cents)::bigint from ("
        "select to_place as place, on_date, cents from cost.trace"
        " union all select from_place, on_date, -cents from cost.trace) group by all having sum(cents) <> 0"
    ).fetchall()
    return {(place, day): cents for place, day, cents in rows}


def assert_agree(shop: MadeShop) -> duckdb.DuckDBPyConnection:
    """The published trace, on which the oracle agrees."""
    books, con = both(shop)
    assert published_by_piece(con) == books.by_piece()
    assert published_by_day(con) == books.by_day()
    assert published_own_pay(con) == own_pay(books)
    return con


def published_own_pay(con: duckdb.DuckDBPyConnection) -> Sums:
    """Own pay on its way from the bench into pieces, pools and months, by piece or day."""
    rows = con.execute(
        "with moved as (select from_place as source, to_place as place, on_date, piece, cents from cost.trace"
        " where origin = 'own labour' and layer <> 'spoilage' and from_place in ('labour', 'imputed', 'pool', 'period')"
        " and to_place in ('piece', 'pool', 'period'))"
        " select place, case when place = 'piece' then piece else on_date::varchar end as who, sum(cents)::bigint from"
        " (from moved union all select place, source, on_date, piece, -cents from moved)"
        " where place in ('piece', 'pool', 'period') group by all having sum(cents) <> 0"
    ).fetchall()
    return {(place, who): cents for place, who, cents in rows}


def own_pay(books: Books) -> Sums:
    out: dict[tuple[str, object], int] = defaultdict(int)
    for move in books.moves:
        if move.origin != "own labour" or move.layer == "spoilage" or move.source not in ("labour", "imputed", "pool"):
            continue
        if move.place not in ("piece", "pool", "period"):
            continue
        for place, cents in ((move.place, move.cents), (move.source, -move.cents)):
            if place in ("piece", "pool", "period"):
                out[place, move.piece if place == "piece" else str(move.day)] += cents
    return {k: v for k, v in out.items() if v}


# fmt: off
AREAS = {
    "receipts and wood": ("freight", "tax", "discount", "runs", "unsized", "lots missing", "closings"),
    "slabs by value": ("blank values", "runs", "unsized", "lots missing", "closings", "lot sales", "sales", "freight"),
    "shelf": ("usage", "short", "late", "same day", "opening", "freight", "sent back"),
    "pours": ("pours", "unweighed", "colour", "unsized", "late", "runs"),
    "comparable pieces": (
        "pours", "unweighed", "usage", "consumables", "machine", "unattended", "rework", "inspected", "runs",
        "unsized", "pieceless",
    ),
    "counts": ("usage", "pours", "counts", "late", "short"),
    "counts that err": ("usage", "pours", "counts", "recounted", "late", "short", "same day", "opening", "sales"),
    "counts that err, averaged": (
        "average", "usage", "pours", "counts", "recounted", "short", "late", "sales", "odd kits", "opening",
    ),
    "counts of fittings": ("usage", "fittings", "counts", "recounted", "runs", "late", "opening"),
    "before the start": (
        "bought before", "opening", "usage", "pours", "freight", "sent back", "lots missing", "closings",
        "lot sales",
    ),
    "hours": ("shared hours", "unattended", "machine", "rework", "raise", "runs", "unsized", "estimates", "pieceless"),
    "doors": ("sales", "returns", "runs", "inspected", "untagged sales", "fees", "booth", "lot sales", "closings"),
    "pools": ("pools", "machine", "unattended", "rework", "sales"),
    "shop work": ("pools", "shop work", "machine", "pieceless", "raise", "sales", "returns", "rework"),
    "salvage": ("salvage", "ends", "usage", "lots missing", "closings", "orders", "short", "late"),
    "salvage of runs": ("salvage", "runs", "inspected", "sales", "returns", "ends", "usage", "orders"),
    "ends": ("ends", "runs", "sales", "returns", "inspected", "lots missing", "closings", "orders"),
    "consumables": ("consumables", "counts", "sales"),
    "what nobody logs": ("consumables", "counts", "recounted", "lazy", "runs", "opening", "sales"),
    "kits of unknown size": (
        "odd kits", "pours", "unweighed", "usage", "consumables", "counts", "recounted", "opening", "late",
    ),
    "average": ("average", "usage", "pours", "late", "short"),
    "counts and doors": ("usage", "pours", "counts", "short", "late", "sales", "returns", "rework"),
    "whole shops": (
        "freight", "tax", "discount", "runs", "unsized", "lots missing", "shared hours", "unattended", "machine",
        "rework", "pours", "colour", "usage", "short", "late", "consumables", "sales", "returns", "orders", "fees",
        "booth", "pools", "closings", "estimates", "opening", "lot sales", "untagged sales", "raise",
    ),
    "bench and pools": (
        "machine", "unattended", "pools", "shared hours", "rework", "runs", "sales", "returns", "raise", "closings",
    ),
    "rates of the day": ("machine", "pools", "new rates", "rework", "shop work", "unattended", "raise", "sales"),
    "mending": ("normal rework", "rework", "runs", "machine", "pools", "pours", "sales", "returns", "ends"),
}
# fmt: on


@pytest.mark.parametrize("area", AREAS)
def test_the_oracle_agrees(area: str) -> None:
    @few
    @given(made_shops(*AREAS[area]))
    def agree(shop: MadeShop) -> None:
        assert_agree(shop).close()

    agree()


def test_a_whole_refresh_publishes_what_the_oracle_says(tmp_path: Path) -> None:
    features = ("freight", "tax", "pours", "usage", "machine", "pools", "sales", "returns", "runs", "lots missing")
    shop = draw_shop(Random(7), frozenset(features))
    books, _ = both(shop)
    summary = refresh(load(write(shop, tmp_path / "shop")))
    assert summary.published is not None, summary.errors
    with open_newest(tmp_path / "shop") as con:
        assert published_by_piece(con) == books.by_piece()
        assert published_by_day(con) == books.by_day()
        pieces = con.execute("select piece, made_cents from cost.piece").fetchall()
    made: dict[str, int] = defaultdict(int)
    for (piece, _), cents in books.by_piece().items():
        made[piece] += cents
    assert {p: c for p, c in pieces if c} == made


def test_the_oracle_by_hand() -> None:
    """One slab, one board, one hour: figures worked out on paper, so that the oracle itself stands on something."""
    assert shares(100, [1, 1, 1]) == [33, 34, 33]
    assert shares(-100, [1, 1, 1]) == [-33, -34, -33]
    assert shares(5, [0, 0]) == [3, 2]
    shop = MadeShop(
        'start = 2026-01-01\n[[people]]\nname = "Ada"\nrate = 30\n',
        {
            "purchases": [
                {"date": "2026-01-02", "receipt": "R-1", "item": "slab", "category": "wood", "amount": "90",
                 "freight": "10",
                 "lot": "W-1", "species": "walnut", "length": "1000 mm", "width": "200 mm", "thickness": "50 mm"},
            ],
            "pieces": [
                {"piece": "T-1", "product": "board", "lot": "W-1", "started": "2026-01-05", "blank_length": "400 mm",
                 "blank_width": "200 mm", "blank_thickness": "50 mm"},
            ],
            "hours": [{"date": "2026-01-06", "hours": "1.5", "operation": "sanding", "pieces": "T-1", "person": "Ada"}],
        },
    )  # fmt: skip
    books, con = both(shop)
    # 400 of 1000 mm of a slab of 100.00, and an hour and a half at 30.00
    by_hand = {("T-1", "wood"): 4000, ("T-1", "labour"): 4500}
    assert books.by_piece() == by_hand
    assert published_by_piece(con) == by_hand
    assert books.balance("stock", date(2026, 1, 31)) == 6000
