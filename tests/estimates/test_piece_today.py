"""Pieces of the past at today's pay and prices."""

from datetime import date

import polars as pl
from made_shops import made_shop

from pipeline.estimates.piece_today import COLUMNS, NODES, piece_today

MATERIAL = pl.DataFrame(schema={"piece": pl.String, "layer": pl.String, "material_cents_today": pl.Int64})


def rates(*steps: tuple[date, int]) -> pl.DataFrame:
    rows = [{"name": "ada", "from_date": day, "rate_cents": cents, "paid": False} for day, cents in steps]
    return pl.DataFrame(rows)


def test_labour_moves_with_the_pay_and_nothing_else_does() -> None:
    history = made_shop(5, 40, harder=True)
    middle = history["finished"][20]
    then = piece_today(history, MATERIAL, rates((date(2024, 1, 1), 2_500)))
    now = piece_today(history, MATERIAL, rates((date(2024, 1, 1), 2_500), (middle, 3_000)))
    raised = history["finished"] < middle
    ratio = now["today_labour_cents"] / then["today_labour_cents"]
    assert (ratio.filter(raised) - 1.2).abs().max() < 1e-3  # whole cents
    # what was made after the raise was paid by it
    assert (ratio.filter(~raised) == 1).all()
    for part in ("machine", "overhead", "material"):
        assert now[f"today_{part}_cents"].equals(then[f"today_{part}_cents"])


def test_a_unit_of_a_run_and_its_resin() -> None:
    history = made_shop(5, 20)[:1].with_columns(
        quantity=pl.lit(4), labour_cents=pl.lit(4_000), material_cents_today=pl.lit(802), machine_cents=pl.lit(401)
    )
    poured = pl.DataFrame(
        {
            "piece": [history["piece"][0]] * 3,
            "layer": ["resin", "resin waste", "wood"],
            "material_cents_today": [80, 20, 1],
        }
    )
    row = piece_today(history, poured, rates((date(2024, 1, 1), 2_500))).row(0, named=True)
    assert (row["quantity"], row["today_labour_cents"], row["today_resin_cents"]) == (4, 1_000, 25)
    # each part is rounded by itself, half to even, and the whole is their sum
    assert (row["today_material_cents"], row["today_machine_cents"], row["today_cents"]) == (200, 100, 1_300)


def test_a_piece_without_hours_or_material_is_left_out() -> None:
    history = made_shop(5, 20)
    first = pl.int_range(pl.len()) == 0
    bare = history.with_columns(bench_seconds=pl.when(first).then(0).otherwise("bench_seconds"))
    found = piece_today(bare, MATERIAL, rates((date(2024, 1, 1), 2_500)))
    assert found["piece"].to_list() == history["piece"][1:].to_list()


def test_the_node_gives_its_columns_even_of_nothing() -> None:
    inputs = {"price.history": made_shop(5, 20).clear(), "price.material": MATERIAL}
    empty = NODES[0].run(inputs | {"settings.person_rate": rates((date(2024, 1, 1), 1)).clear()})
    assert empty.columns == list(COLUMNS)
    assert empty.is_empty()
