"""What the trace promises of any shop: nothing lost, no order of files, no earlier month rewritten by later records."""

import tempfile
from collections import defaultdict
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path
from random import Random
from typing import Any

import duckdb
import polars as pl
import pytest
from books_sums import cut
from hypothesis import given, settings
from hypothesis import strategies as st
from shops import MadeShop, Rows, draw_shop, linked, linked_folder, made_shops, run, the_same_shops, write

from pipeline import linking
from pipeline.linking import Linked, row_ids

few = settings(settings.get_profile("oracle"))

EVERYTHING = (
    "freight", "tax", "discount", "runs", "unsized", "lots missing", "shared hours", "unattended", "machine",
    "pieceless", "rework", "pours", "colour", "usage", "short", "late", "counts", "consumables", "sales", "returns",
    "ends", "salvage", "orders", "fees", "booth", "pools", "shop work", "closings", "estimates", "opening", "lot sales",
    "untagged sales", "raise", "same day", "inspected",
)  # fmt: skip
AVERAGE = ("average", *(feature for feature in EVERYTHING if feature != "consumables"))

any_shop = st.one_of(made_shops(*EVERYTHING), made_shops(*AVERAGE))


# so many that a shop's own trace is still there for the next rule that is changed in it
@lru_cache(maxsize=16)
def traced(shop: MadeShop) -> tuple[Linked, duckdb.DuckDBPyConnection]:
    with tempfile.TemporaryDirectory() as folder:
        found = linked(shop, Path(folder))
    return found, run(found)


def rows(con: duckdb.DuckDBPyConnection, query: str) -> list[tuple[Any, ...]]:
    return con.execute(query).fetchall()


# every cent and every second is somewhere

LOWEST = """
with moved as (
    select {what} as thing, on_date, cents from cost.trace where to_place = '{place}'
    union all
    select {what}, on_date, -cents from cost.trace where from_place = '{place}'
),
by_day as (select thing, on_date, sum(cents) as cents from moved group by all),
held as (select thing, on_date, sum(cents) over (partition by thing order by on_date) as cents from by_day)
select thing, on_date, cents from held where cents < 0
"""


@the_same_shops
@few
@given(any_shop)
def test_every_cent_is_somewhere(shop: MadeShop) -> None:
    found, con = traced(shop)
    # less what went back to it: a line that its own discount takes below nothing
    [(left,)] = rows(con, "select coalesce(-sum(cents), 0) from cost.entry where place = 'receipt'")
    assert left == paid(found), "what left `receipt` is what the receipts say"
    [(left,)] = rows(con, "select coalesce(sum(cents), 0) from cost.trace where from_place = 'labour'")
    assert left == earned(found), "what left `labour` is what the hours say"
    assert (
        rows(con, "select * from cost.trace where from_place is null or to_place is null or from_place = to_place")
        == []
    )
    assert rows(con, LOWEST.format(what="piece", place="piece")) == []
    assert rows(con, LOWEST.format(what="item", place="stock")) == []
    both_ways = "select place, sum(cents) from (select to_place as place, cents from cost.trace union all"
    both_ways += " select from_place, -cents from cost.trace) group by all"
    assert sum(cents for _, cents in rows(con, both_ways)) == 0


def paid(found: Linked) -> int:
    """All receipts with freight, discount, and the tax that doesn't come back; from the records, not from the trace."""
    reclaimed = found.settings["rule"].sort("from_date").to_dicts()[0]["tax_reclaimable"]
    total = 0
    for row in found.records["purchases"].to_dicts():
        total += row["amount_cents"] + (row["freight_cents"] or 0) - (row["discount_cents"] or 0)
        total += 0 if reclaimed else (row["tax_cents"] or 0)
    return total


def earned(found: Linked) -> int:
    """Each attended row of hours at its person's rate that day, rounded once."""
    people = found.settings["person_rate"].sort("position").to_dicts()
    total = 0
    for row in found.records["hours"].to_dicts():
        name = row["person"] or people[0]["name"]
        rates = sorted((p for p in people if p["name"] == name), key=lambda p: p["from_date"])
        begun = [p for p in rates if p["from_date"] <= row["on_date"]] or rates[:1]
        if row["attended"]:
            total += cut(row["seconds"] * round(1000 * begun[-1]["rate_cents"]), 1, 3600_000)
    return total


@the_same_shops
@few
@given(any_shop)
def test_every_second_is_somewhere(shop: MadeShop) -> None:
    found, con = traced(shop)
    logged = {r["row_id"]: r["seconds"] for r in found.records["hours"].to_dicts() if r["attended"]}
    placed = rows(
        con,
        "select row_id, sum(quantity)::bigint from cost.trace where from_place = 'labour' and unit = 's' group by all",
    )
    assert dict(placed) == logged


# files

Trace = list[tuple[Any, ...]]


def trace_of_files(shop: MadeShop, files: Callable[[str, Rows], dict[str, Rows]]) -> Trace:
    with tempfile.TemporaryDirectory() as folder:
        con = run(linked_folder(write(shop, Path(folder), files)))
    return rows(con, "from cost.trace order by all")


@the_same_shops
@few
@given(any_shop)
def test_files_may_be_shuffled_and_split(shop: MadeShop) -> None:
    random = Random(repr(shop))

    def shuffled(record: str, some: Rows) -> dict[str, Rows]:
        some = random.sample(some, len(some))
        at = random.randint(0, len(some))
        # the first part sorts last, so that files come in another order than their rows
        return {f"z {record}": some[:at], f"a {record}": some[at:]}

    _, con = traced(shop)
    assert trace_of_files(shop, shuffled) == rows(con, "from cost.trace order by all")


# row ids

WITHOUT_IDS = "select * exclude (row_id, paid_row_id) from cost.trace order by all"


def found_rows(shop: MadeShop) -> Linked:
    with tempfile.TemporaryDirectory() as folder:
        return linked(shop, Path(folder))


@few
@given(any_shop, st.integers(0, 2**32 - 1))
def test_a_changed_note_changes_no_cents(shop: MadeShop, seed: int) -> None:
    """Of rows that agree in all but a note too. Equal rows get equal notes, or twins would be two events."""

    def noted(seed: int) -> MadeShop:
        def note(record: str, number: int, row: dict[str, str]) -> str:
            # two equal stretches of work are two in any case
            told = Random(f"{seed} {record} {number if record == 'hours' else sorted(row.items())}")
            return told.choice(("", "knots", "ink", f"no {told.randrange(99)}"))

        several = {name: rows * 2 if name == "hours" else rows for name, rows in shop.rows.items()}
        return replace(
            shop,
            rows={
                name: [row | {"note": note(name, k, row)} for k, row in enumerate(rows)]
                for name, rows in several.items()
            },
        )

    one, two = found_rows(noted(seed)), found_rows(noted(seed + 1))
    assert set(one.records["hours"]["row_id"]) != set(two.records["hours"]["row_id"])
    assert rows(run(one), WITHOUT_IDS) == rows(run(two), WITHOUT_IDS)


@pytest.mark.parametrize("habits", [EVERYTHING, AVERAGE])
def test_the_largest_ids_fit_and_ids_are_no_order(habits: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    """All models, under ids that end with the largest there is, in an order of their own."""
    shop = draw_shop(Random(11), frozenset(habits))
    own = run(found_rows(shop), whole=True)

    def largest(rows: pl.DataFrame, *_: object) -> pl.Series:
        ids = Random(5).sample(range(2**row_ids.BITS - rows.height, 2**row_ids.BITS), rows.height)
        return pl.Series("row_id", ids, dtype=pl.Int64)

    monkeypatch.setattr(linking, "ids_of", largest)
    found = found_rows(shop)
    assert found.row["row_id"].max() == 2**row_ids.BITS - 1
    other = run(found, whole=True)
    for query in (
        WITHOUT_IDS,
        "from money.month order by all",
        "select * exclude (row_id) from quality.found order by all",
    ):
        assert rows(other, query) == rows(own, query)
    [(lowest, highest)] = rows(other, "select min(least(use_id, lot_id)), max(use_id) from work.flow")
    assert lowest < 0 < highest < 2**63


# later records


def by_month(con: duckdb.DuckDBPyConnection, before: date) -> dict[tuple[Any, ...], int]:
    query = "select date_trunc('month', on_date)::date, from_place, to_place, layer, origin, piece, item"
    found = rows(
        con,
        f"{query}, sum(cents)::bigint from cost.trace where on_date < date '{before}'"
        " group by all having sum(cents) <> 0",
    )
    return {row[:-1]: row[-1] for row in found}


def newest(shop: MadeShop) -> date:
    return max(
        date.fromisoformat(v) for some in shop.rows.values() for r in some for k, v in r.items() if k in DAYS and v
    )


DAYS = ("date", "started", "finished", "ended")


def later(shop: MadeShop, day: date) -> dict[str, Rows]:
    """What a shop goes on with on a day: it buys and makes, for an order too, has units back, scraps what it had."""
    hinges = {"item": "brass hinge", "category": "hardware", "quantity": "9", "unit": "each", "amount": "123.45"}
    slab = {"item": "slab", "category": "wood", "amount": "222.22", "lot": "Z-1", "species": "ash"}
    slab |= {"length": "900 mm", "width": "300 mm", "thickness": "40 mm"}
    stool = {"piece": "Z-9", "product": "stool", "species": "ash", "lot": "Z-1", "quantity": "1", "started": f"{day}"}
    stool |= {"length": "300 mm", "width": "300 mm", "thickness": "30 mm"}
    ordered = [stool | {"piece": f"Z-{o['order_no']}", "order_no": o["order_no"]} for o in shop.rows.get("orders", [])]
    sawing = {"hours": "90 min", "operation": "sawing", "pieces": "Z-9", "person": "Ada", "attended": "yes"}
    sold = [r for r in shop.rows.get("sales", []) if r.get("piece")]
    back = {r["piece"] for r in sold if int(r["quantity"]) < 0}
    returned = [r | {"quantity": f"-{r['quantity']}", "returned_to": "stock"} for r in sold if r["piece"] not in back]
    # a sale without a tag may have been of it: that guess would be found wrong, and made anew
    gone = {r.get("piece") for r in sold} | {r.get("product") for r in shop.rows.get("sales", [])}
    whole = [p for p in shop.rows["pieces"] if p["status"] == "finished" and not gone & {p["piece"], p["product"]}]
    scrapped = [{"piece": p["piece"], "action": "scrap", "quantity": p["quantity"]} for p in whole]
    some = {
        "purchases": [{"receipt": "Z-1"} | hinges, {"receipt": "Z-2"} | slab],
        "hours": [sawing],
        "usage": [{"item": "brass hinge", "quantity": "4", "unit": "each", "pieces": "Z-9"}],
        "sales": returned[-1:],
        "inspections": [{"defect": "crack"} | row for row in scrapped[:1]],
    }
    return {"pieces": [stool, *ordered]} | {k: [r | {"date": f"{day}"} for r in v] for k, v in some.items()}


@the_same_shops
@few
@given(any_shop)
def test_later_records_leave_earlier_months_alone(shop: MadeShop) -> None:
    _, before = traced(shop)
    first_of_next = (newest(shop).replace(day=1) + timedelta(days=32)).replace(day=1)
    # later than a late receipt may be
    more = later(shop, first_of_next + timedelta(days=29))
    grown = replace(shop, rows={k: shop.rows.get(k, []) + more.get(k, []) for k in dict.fromkeys([*shop.rows, *more])})
    _, after = traced(grown)
    assert by_month(after, first_of_next) == by_month(before, first_of_next)
    assert by_month(after, date.max) != by_month(before, date.max)


# rules

# scrap goes on by its cost, and a gift with scrap in it is a selling cost
SPOILED = "layer = 'spoilage' or layer = 'selling' and to_place = 'period'"
RULES: dict[str, tuple[str, str, str]] = {
    # a rule: what stands in shop.toml, what stands there then, and the trace rows that may differ
    "normal scrap": ("normal_scrap = 0.5", "normal_scrap = 0.0", SPOILED),
    "a pool's amount": ("amount = 100", "amount = 250", f"origin = 'overhead' or {SPOILED}"),
    "a fee": ("share = 0.1", "share = 0.2", "layer = 'selling'"),
    "a rate": ("rate = 31", "rate = 47", f"origin = 'own labour' or {SPOILED}"),
}


@pytest.mark.parametrize("rule", RULES)
def test_a_rule_changes_what_hangs_on_it(rule: str) -> None:
    old, new, hangs = RULES[rule]
    moved = []
    # few shops have scrap: as many are drawn as it takes to have one
    more = 3 * few.max_examples if rule == "normal scrap" else few.max_examples

    @settings(few, max_examples=more)
    @given(made_shops("sales", "ends", "rework", "returns", always=True))
    def changes(shop: MadeShop) -> None:
        lines = [x for x in shop.toml.split("[[channels]]")[0].splitlines() if not x.startswith("normal_scrap")]
        toml = "\n".join(lines).replace("start =", "normal_scrap = 0.5\nstart =", 1)
        toml = toml.replace(
            toml[toml.index("rates = [") : toml.index("]\n[[people]]", toml.index("rates = [")) + 1], "rate = 31"
        )
        toml += '\n[[pools]]\nname = "rent"\nsource = "amount"\namount = 100\n'
        for channel in ("fair", "gallery"):
            toml += f'[[channels]]\nname = "{channel}"\nshare = 0.1\n'
        toml += "[[items]]" + shop.toml.split("[[items]]", 1)[1]
        assert old in toml
        _, one = traced(replace(shop, toml=toml))
        _, two = traced(replace(shop, toml=toml.replace(old, new)))
        figures = []
        for con in (one, two):
            found: dict[Any, int] = defaultdict(int)
            for *key, cents in rows(
                con,
                f"select * exclude (cents, quantity, row_id, paid_row_id), cents from cost.trace where not ({hangs})",
            ):
                found[tuple(key)] += cents
            figures.append(dict(found))
        assert figures[0] == figures[1]
        moved.append(rows(one, "from cost.trace order by all") != rows(two, "from cost.trace order by all"))

    changes()
    assert any(moved), "the rule did change something"
