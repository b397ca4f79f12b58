"""Where resin went: by draw, lot and month, in grams and cents; and that none is made or lost."""

from datetime import date, timedelta

import duckdb
import polars as pl
import pytest
from hypothesis import HealthCheck, Phase, example, given, settings
from hypothesis import strategies as st

from pipeline import database
from pipeline.database.plan import read_plan
from pipeline.database.run import run_models
from pipeline.linking import link
from pipeline.shop import load
from tests.refreshed import led_to

RESIN = {"item": "clear", "category": "resin", "unit": "mg", "density_ug_per_ul": 1100}
DAY = date(2026, 3, 9)
POUR = {"pour": "R-1", "row_id": 7, "mixed_mg": 1000, "good_mg": 700, "trimmed_mg": 100, "left_in_cup_mg": 120}
FATES = ("good", "trimmed", "cup", "spilled", "unexplained", "other", "short")


def draws(model, pour, quantity, **given_tables):
    return model(
        "material._draw",
        work__item=[RESIN],
        work__flow=[{"flow": "clear", "lot_id": 1, "use_id": 28672, "from_quantity": 0, "to_quantity": quantity}],
        work__use=[{"use_id": 28672, "row_id": 7, "on_date": DAY, "source": "pour", "quantity": quantity}],
        work__pour=[pour],
        **given_tables,
    )


def test_a_draw_goes_by_the_fates_of_its_pour(model) -> None:
    # half of the mix comes from this lot
    (row,) = draws(model, POUR | {"spilled_mg": 30}, 500)
    assert [row[f] for f in FATES] == [350, 50, 60, 15, 25, 0, 0]


def test_no_fate_takes_more_than_was_mixed(model) -> None:
    (row,) = draws(model, POUR | {"good_mg": 950, "trimmed_mg": 100, "left_in_cup_mg": 120}, 1000)
    assert [row[f] for f in FATES] == [950, 50, 0, 0, 0, 0, 0]


def test_good_resin_in_scrapped_pieces_and_re_pours_is_apart(model) -> None:
    pieces = [("T-1", "finished", 300, False), ("T-2", "scrapped", 200, True), ("T-3", "sold", 200, True)]
    (row,) = draws(
        model,
        POUR,
        1000,
        work__pour_piece=[{"pour": "R-1", "piece": p, "good_mg": g, "rework": r} for p, _, g, r in pieces],
        work__unsound=[{"piece": p, "units": 1, "all_units": 1} for p, s, _, _ in pieces if s == "scrapped"],
    )
    assert (row["good"], row["scrapped"], row["repour"]) == (700, 200, 200)


def test_good_resin_in_scrapped_units_of_a_run_is_apart(model) -> None:
    (row,) = draws(
        model,
        POUR | {"good_mg": 800},
        1000,
        work__pour_piece=[{"pour": "R-1", "piece": "C-1", "good_mg": 800, "rework": True}],
        work__unsound=[{"piece": "C-1", "units": 2, "all_units": 8}],
    )
    assert (row["good"], row["scrapped"], row["repour"]) == (800, 200, 600)


def test_a_count_that_found_less_is_short_expired_or_taken(model) -> None:
    for cause, fate in (("count", "short"), ("expired", "expired"), ("own use", "other")):
        (row,) = model(
            "material._draw",
            work__item=[RESIN],
            work__flow=[{"flow": "clear", "lot_id": 1, "use_id": 4096 * 9 + 2, "from_quantity": 0, "to_quantity": 40}],
            work__counted=[{"flow": "clear", "row_id": 9, "on_date": DAY, "cause": cause, "found": -40}],
        )
        assert (row["fate"], row["on_date"], row["quantity"]) == (fate, DAY, 40)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    mixed=st.integers(1, 10**6),
    parts=st.lists(st.integers(0, 10**6), min_size=4, max_size=4),
    shares=st.lists(st.integers(1, 10**6), min_size=1, max_size=4),
)
def test_what_leaves_a_lot_is_somewhere(model, mixed, parts, shares) -> None:
    """However odd a pour's figures and however many lots it takes, every milligram has one fate."""
    pour = dict(zip(("good_mg", "trimmed_mg", "left_in_cup_mg", "spilled_mg"), parts, strict=True))
    ends = [sum(shares[: n + 1]) for n in range(len(shares))]
    rows = model(
        "material._draw",
        work__item=[RESIN],
        work__flow=[
            {"flow": "clear", "lot_id": n, "use_id": 28672, "from_quantity": 0, "to_quantity": share}
            for n, share in enumerate(shares, 1)
        ],
        work__use=[{"use_id": 28672, "row_id": 7, "on_date": DAY, "source": "pour", "quantity": ends[-1]}],
        work__pour=[{"pour": "R-1", "row_id": 7, "mixed_mg": mixed} | pour],
    )
    assert [row["quantity"] for row in sorted(rows, key=lambda r: r["lot_id"])] == shares
    assert all(sum(row[f] for f in FATES) == row["quantity"] for row in rows)
    assert all(row[f] >= 0 for row in rows for f in FATES)


def test_a_lot_s_cents_go_by_grams_and_none_is_lost(model) -> None:
    lot = {"lot_id": 1, "item": "clear", "category": "resin", "unit": "mg", "bought_on": DAY, "bought": 1000_000}
    fates = {
        "good": 600_000,
        "trimmed": 50_000,
        "cup": 100_000,
        "spilled": 7_000,
        "unexplained": 11_000,
        "other": 3_000,
        "short": 99,
    }
    used = sum(fates.values())
    (row,) = model(
        "material.resin_lot",
        work__item=[RESIN | {"shelf_months": 12}],
        cost__lot=[lot | {"on_hand": 1000_000 - used, "landed_cents": 5000, "used_cents": 3751, "on_hand_cents": 1249}],
        material___draw=[
            {"lot_id": 1, "use_id": 1, "pour": "R-1", "on_date": DAY, "quantity": used, "poured": used - 99}
            | {"scrapped": 0, "repour": 150_000, "expired": 0}
            | fates
        ],
    )
    assert (row["opened_on"], row["keeps_to"], row["state"], row["pours"]) == (DAY, date(2027, 3, 9), "opened", 1)
    assert (row["good_g"], row["sound_g"], row["in_repours_g"]) == (600, 450, 150)
    cents = [row[f"{n}_cents"] for n in ("good", "trimmed", "cup", "spilled", "pour_unexplained", "other", "shortage")]
    # the share of each sum so far, rounded, less that of the sum before
    grown = [(2 * 3751 * sum([*fates.values()][:n]) + used) // (2 * used) for n in range(1, len(fates) + 1)]
    assert cents == [now - before for before, now in zip([0, *grown], grown, strict=False)]
    assert sum(cents) == 3751
    # 3751 x 600000 / 771099
    assert (row["good_cents"], row["in_repours_cents"]) == (2919, 730)


def test_a_lot_never_drawn_on_is_unopened(model) -> None:
    (row,) = model(
        "material.resin_lot",
        work__item=[RESIN],
        cost__lot=[
            {
                "lot_id": 1,
                "item": "clear",
                "category": "resin",
                "unit": "mg",
                "bought_on": DAY,
                "bought": 5,
                "on_hand": 5,
            }
            | {"landed_cents": 9, "used_cents": 0, "on_hand_cents": 9}
        ],
    )
    assert (row["state"], row["opened_on"], row["keeps_to"], row["good_share"]) == ("unopened", None, None, None)


def test_a_pour_that_does_not_say_its_resin_is_in_no_sum(model) -> None:
    month = date(2026, 3, 1)
    balance = [{"item": "clear", "month": month, "poured_g": 100.0, "bought_g": 1000.0}]
    pours = [
        {"pour": "R-0", "on_date": date(2026, 2, 27), "resin": "clear", "resin_cents": 5, "waste_cents": 2},
        {"pour": "R-1", "on_date": month, "resin": "clear", "resin_cents": 10, "waste_cents": 3},
        {"pour": "R-2", "on_date": month, "resin": None, "resin_cents": 0, "waste_cents": 0},
    ]
    rows = model("material.resin_span", material__resin_balance=balance, material__pour=pours)
    assert {row["item"] for row in rows} == {"clear", "all resins"}
    # the one before the first month counts there, as its grams do
    figures = ("poured_g", "bought_g", "pours", "resin_cents", "waste_cents")
    assert {tuple(row[name] for name in figures) for row in rows} == {(100, 1000, 2, 15, 5)}


@pytest.mark.parametrize("bought_on", (date(2025, 12, 20), date(2026, 1, 5)))
@pytest.mark.parametrize("unit, closing", (("mg", 400), ("each", None)))
def test_a_stretch_holds_what_came_before_the_start_and_a_count_by_weight_alone(
    model, bought_on, unit, closing
) -> None:
    """A kilo bought, 600 g poured, 400 g left; a count of bottles ends no stretch."""
    first, *rest = model(
        "material._stretch",
        work__item=[{"item": "clear", "category": "resin", "unit": "mg", "density_ug_per_ul": 1000}],
        settings__shop=[{"start": date(2026, 1, 1)}],
        work__month=[{"month": date(2026, 4, 1), "last_on": date(2026, 4, 30)}],
        records__counts=[
            {"item": "clear", "on_date": date(2026, 3, 1), "quantity": 400_000, "quantity_unit": unit, "cause": "count"}
        ],
        cost__lot=[{"lot_id": 1, "item": "clear", "bought": 1_000_000, "bought_on": bought_on}],
        work__lot=[{"lot_id": 1, "opening": False}],
        work__pour=[{"pour": "R-1", "resin": "clear", "on_date": date(2026, 2, 1), "pieces": 1, "estimated": False}
                    | {"resin_mg": 600_000, "mixed_mg": 600_000, "colourant_mg": 0}],
        material__pour_need=[{"pour": "R-1"}],
    )  # fmt: skip
    assert (first["opening_g"], first["bought_g"], first["weighed_resin_g"]) == (0, 1000, 600)
    assert (first["counted"], first["closing_g"], len(rest)) == (closing is not None, closing, closing is not None)
    assert first["from_on"] == min(bought_on, date(2026, 1, 1)) - timedelta(days=1)


grams = st.integers(1, 900_000)
events = st.lists(
    st.tuples(
        st.sampled_from(("buy", "pour", "weighed", "count", "use", "expired")),
        st.integers(1, 120),
        grams,
        st.lists(st.integers(0, 300), min_size=4, max_size=4),
    ),
    min_size=1,
    max_size=14,
)


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """A shop that knows one resin: mixed one to one by volume, a gram in a millilitre."""
    folder = tmp_path_factory.mktemp("resin-shop")
    (folder / "shop.toml").write_text(
        'start = 2026-01-01\n[[items]]\nname = "clear"\ncategory = "resin"\ndensity = 1.0\n', encoding="utf-8"
    )
    return load(folder)


# no shrinking: each example runs some ninety models
@settings(max_examples=8, deadline=None, phases=[Phase.explicit, Phase.generate])
@given(events=events)
@example(events=[("buy", 1, 1, [0, 0, 0, 0])] * 2)
@example(events=[("pour", 30, 1000, [0, 0, 0, 0]), ("buy", 33, 5000, [0, 0, 0, 0])])
@example(events=[("buy", 1, 1, [0, 0, 0, 0])] * 3 + [("weighed", 1, 1, [0, 0, 0, 0])])
def test_mass_and_money_are_conserved_from_records_to_balance(shop, events) -> None:
    """From records to balance, for drawn histories: in = out + on hand, by month and by lot, in grams and in cents."""
    with duckdb.connect() as con:
        con.execute("set threads = 1")
        database.create_given(con)
        history(con, shop, events)
        (check,) = [check for check in read_plan().checks if check.table == "checks.resin_balances"]
        run_models(con, lambda _: None, led_to({"material.resin_balance", *check.inputs}))
        assert con.execute(check.sql).fetchall() == []
        query = """select sum(bought_g + missing_g + found_g),
            sum(good_g + trimmed_g + cup_g + spilled_g + pour_unexplained_g + other_g + shortage_g),
            arg_max(on_hand_g, month), sum(poured_g) from material.resin_balance"""
        total = con.execute(query).fetchall()[0]
        if total[0] is None:
            assert not any(kind == "buy" for kind, *_ in events)
            return
        came, went, left, poured = total
        assert came == pytest.approx(went + left, abs=1e-6)
        # a receipt days after its pour leaves less than nothing at a month's end between; at the last, none can
        assert left > -1e-6
        mixed = sum(2 * amount for kind, _, amount, _ in events if kind in ("pour", "weighed")) / 1000
        assert poured == pytest.approx(mixed, abs=1e-6)
        bought = con.execute("select coalesce(sum(bought_cents), 0) from material.resin_balance").fetchall()[0][0]
        assert bought == sum(amount // 100 for kind, _, amount, _ in events if kind == "buy")


def history(con, shop, events) -> None:
    """Purchases, pours on a piece, counts and other uses of one resin, as records."""
    for name, frame in link([], shop).settings.items():
        put(con, f"settings.{name}", frame)
    size = {"length_um": 300_000, "width_um": 200_000, "thickness_um": 20_000}
    tray = {"row_id": 1000, "piece": "T-1", "product": "tray", "quantity": 1, "started": date(2026, 1, 2)}
    put(con, "records.pieces", pl.DataFrame([tray | size]))
    for number, (kind, day, amount, parts) in enumerate(events, 1001):
        row = {"row_id": number, "on_date": date(2026, 1, 1) + timedelta(day)}
        table, more = made(number, kind, amount, parts)
        put(con, f"records.{table}", pl.DataFrame([row | more]))


def made(number, kind, amount, parts):
    """The record's name and its own fields."""
    what = {"item": "clear", "category": "resin", "quantity": amount, "quantity_unit": "mg"}
    if kind == "buy":
        return "purchases", what | {"amount_cents": amount // 100}
    if kind == "use":
        return "usage", {name: value for name, value in what.items() if name != "category"}
    if kind in ("count", "expired"):
        return "counts", what | {"cause": kind}
    pour = {"pour": f"R-{number}", "purpose": "flood", "resin": "clear", "piece": "T-1"}
    pour |= {"part_a": amount, "part_a_unit": "mg", "part_b": amount, "part_b_unit": "mg"}
    if kind == "weighed":
        for name, part in zip(("deposited", "trimmed", "left_in_cup", "spilled"), parts, strict=True):
            pour |= {name: amount * part // 1000, f"{name}_unit": "mg"}
    return "pours", pour


def put(con, table, frame) -> None:
    con.register("_rows", frame)
    con.execute(f"insert into {table} by name from _rows")
    con.unregister("_rows")
