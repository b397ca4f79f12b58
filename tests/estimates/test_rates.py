"""The tables `quality.rate` and `quality.odds`."""

import polars as pl
import pytest
from made_outcomes import PRACTICES, outcome, shop

from pipeline.estimates._intervals import wilson
from pipeline.estimates.rates import ADJUSTED, MORE, NODES, ODDS, RATE, adjusted, odds, rate

ELM = {"species": "elm", "finish": "oil", "reworked": True, "scrapped": False, "defects": 2, "rework_cents": 900}
OAK = {"species": "oak", "finish": "oil", "reworked": False, "scrapped": False, "defects": 0, "rework_cents": 0}


def rates_in(judged: pl.DataFrame) -> pl.DataFrame:
    return rate({"quality._outcome": judged, "quality._adjusted": adjusted({"quality._judged": judged})})


def rates_of(*rows: dict[str, object]) -> pl.DataFrame:
    return rates_in(outcome(*rows))


def one(frame: pl.DataFrame, factor: str, level: str, measure: str = "rework") -> dict[str, object]:
    return frame.row(
        by_predicate=(pl.col("factor") == factor) & (pl.col("level") == level) & (pl.col("measure") == measure),
        named=True,
    )


@pytest.fixture(scope="module")
def made() -> pl.DataFrame:
    return rates_in(shop())


def test_counts_and_money_of_a_group() -> None:
    frame = rates_of(ELM, ELM, ELM | {"reworked": False, "rework_cents": None}, OAK, ELM | {"reworked": None})
    elm = one(frame, "species", "elm")
    assert (elm["pieces"], elm["events"], elm["cents"], elm["cents_per_piece"]) == (3, 2, 1800, 600.0)
    assert elm["rate"] == pytest.approx(2 / 3)
    assert (elm["low"], elm["high"]) == pytest.approx(tuple(float(limit) for limit in wilson(2, 3)))
    assert one(frame, "species", "elm", "defect")["pieces"] == 4
    assert one(frame, "species × finish", "elm × oil")["pieces"] == 3


def test_a_piece_that_may_still_come_back_is_in_no_rate() -> None:
    frame = rates_of(ELM, ELM | {"reworked": False}, ELM | {"reworked": False, "young": True}, OAK)
    assert (one(frame, "species", "elm")["pieces"], one(frame, "species", "elm")["rate"]) == (2, 0.5)


def test_unknown_is_a_level_but_an_unknown_practice_is_none() -> None:
    frame = rates_of(ELM | {"species": None, "cold": True}, OAK | {"finish": None, "cold": False}, OAK)
    assert one(frame, "species", "unknown")["pieces"] == 1
    assert one(frame, "species × finish", "oak × unknown")["pieces"] == 1
    cold = frame.filter(pl.col("factor") == "cold", pl.col("measure") == "rework")
    assert dict(cold.select("level", "pieces").iter_rows()) == {"no": 1, "yes": 1}
    assert frame.filter(pl.col("factor") == "damp").is_empty()


def test_a_species_that_only_looks_bad_and_a_practice_that_is(made: pl.DataFrame) -> None:
    """Elm gets the flood coat, so it comes back most; the finish and the cold room are to blame."""
    elm, oak = one(made, "species", "elm"), one(made, "species", "oak")
    assert elm["rate"] > oak["rate"] + 0.1
    assert elm["adjusted"] == pytest.approx(oak["adjusted"], abs=0.05)
    assert elm["verdict"] == "not shown"
    assert one(made, "finish", "flood coat")["verdict"] == "very likely worse"
    assert one(made, "cold", "yes")["verdict"] == "very likely worse"
    assert one(made, "cold", "no")["chance_worse"] < 0.05
    assert one(made, "cold", "yes")["adjusted"] - one(made, "cold", "no")["adjusted"] == pytest.approx(0.3, abs=0.12)


def test_every_interval_holds_its_rate(made: pl.DataFrame) -> None:
    assert made.select(
        ((pl.col("low") <= pl.col("rate")) & (pl.col("rate") <= pl.col("high"))).all()
        & ((pl.col("adjusted_low") < pl.col("adjusted")) & (pl.col("adjusted") < pl.col("adjusted_high"))).all()
    ).item()
    assert made.select(pl.struct("factor", "level", "measure").is_duplicated().any()).item() is False


def test_a_species_never_seen_apart_from_its_finish_is_not_judged() -> None:
    flood = [ELM | {"finish": "flood coat", "reworked": i % 2 == 0} for i in range(20)]
    frame = rates_of(*flood, *[OAK] * 20)
    elm = one(frame, "species", "elm")
    assert (elm["told_apart_share"], elm["unshrunk"], elm["verdict"]) == (0.0, None, "not told apart")
    shared = one(rates_of(*flood, *[OAK] * 20, *[OAK | {"finish": "flood coat"}] * 5), "species", "elm")
    assert shared["told_apart_share"] == 1.0
    assert shared["verdict"] in ("likely worse", "very likely worse")
    assert shared["unshrunk"] is not None


def test_too_few_pieces_are_not_judged() -> None:
    frame = rates_of(*[ELM] * 4, *[OAK] * 60)
    assert one(frame, "species", "elm")["verdict"] == "too few"
    assert one(rates_of(*[ELM] * 5, *[OAK] * 60), "species", "elm")["verdict"] == "very likely worse"


def test_pore_structure_is_told_apart_within_the_finish() -> None:
    """A species has one pore structure, so within a species nothing could ever be told apart."""
    frame = rates_of(*[ELM | {"pore_structure": "ring"}] * 6, *[OAK | {"pore_structure": "diffuse"}] * 6)
    assert one(frame, "pore_structure", "ring")["told_apart_share"] == 1.0


def test_odds_against_the_rest() -> None:
    # by hand: one stratum of [[6, 4], [2, 8]] has the odds ratio 6 * 8 / (4 * 2) = 6
    rows = [ELM] * 6 + [ELM | {"reworked": False}] * 4 + [OAK | {"reworked": True}] * 2 + [OAK] * 8
    frame = odds({"quality._judged": outcome(*rows)})
    elm, oak = one(frame, "species", "elm"), one(frame, "species", "oak")
    assert (elm["odds_ratio"], oak["odds_ratio"]) == pytest.approx((6, 1 / 6))
    assert elm["low"] < 6 < elm["high"]
    assert one(frame, "finish", "oil")["odds_ratio"] is None


@pytest.mark.parametrize(
    "rows",
    [
        [],
        [ELM],
        [{}],
        [{"reworked": True}],
        [ELM] * 3,
        [OAK] * 30,
        [ELM] * 20 + [OAK | {"reworked": True}] * 20,
        [ELM | dict.fromkeys(PRACTICES, True)] * 3,
    ],
)
def test_small_and_lopsided_shops(rows: list[dict[str, object]]) -> None:
    tables = {"quality._judged": outcome(*rows), "quality._outcome": outcome(*rows)}
    for node, columns in zip(NODES, (ADJUSTED | MORE, RATE, ODDS), strict=True):
        frame = tables[node.table] = node.run(tables)
        assert frame.columns == list(columns)
        floats = frame.select(pl.selectors.float())
        assert not floats.select(pl.all().is_nan().any()).row(0).count(True)
    frame = tables["quality.rate"]
    assert frame.filter(pl.col("factor") == "species", pl.col("measure") == "rework")["pieces"].sum() == sum(
        "reworked" in row for row in rows
    )
    assert frame.filter(pl.col("adjusted").is_null()).is_empty()
