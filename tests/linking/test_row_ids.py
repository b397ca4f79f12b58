"""Row ids follow from content: what stands beside a row, where it stands and what else is new moves none."""

import hashlib
from collections.abc import Callable
from datetime import date, time
from pathlib import Path
from random import Random
from typing import Any

import polars as pl
import pytest

from pipeline import cleaning, linking
from pipeline.cleaning import signs
from pipeline.linking import row_ids
from pipeline.mapping import Mapping
from pipeline.records import RECORDS
from pipeline.shop import Shop, load

DAY = date(2026, 1, 5)
SANDING = {"on_date": DAY, "seconds": 3600, "operation": "sanding", "pieces": ["P-1"]}
HINGE = {"on_date": DAY, "receipt": "R-1", "item": "hinge", "category": "hardware", "amount_cents": 500}
ADA = '[[people]]\nname = "Ada"\nrate = 30\n'
BEN = '[[people]]\nname = "Ben"\nrate = 20\n'

Ids = dict[tuple[Any, ...], list[int]]


@pytest.fixture
def shop_of(tmp_path: Path) -> Callable[[str], Shop]:
    def made(toml: str) -> Shop:
        (tmp_path / "shop.toml").write_text(f"start = 2026-01-01\n{toml}", encoding="utf-8")
        return load(tmp_path)

    return made


@pytest.fixture
def shop(shop_of: Callable[[str], Shop]) -> Shop:
    return shop_of(ADA)


def table(record: str, *rows: dict[str, Any], file: str = "a.csv", repeats: bool = False) -> cleaning.Cleaned:
    schema = cleaning.schema(RECORDS[record])
    places = [{"file": file, "sheet": "", "row": k, "occurrence": 0} for k, _ in enumerate(rows, 2)]
    filled = [dict.fromkeys(schema) | row | place for row, place in zip(rows, places, strict=True)]
    nothing = [pl.DataFrame(schema=kind) for kind in (linking._REJECTED, linking._WORD, signs.QUESTION)]
    frame, how = pl.DataFrame(filled, schema=schema), Mapping("by hand", repeats_total=repeats)
    rejected, words, questions = nothing
    return cleaning.Cleaned(
        record=record, frame=frame, rejected=rejected, unknown_words=words, mapping=how, questions=questions
    )


def ids(shop: Shop, record: str, *tables: cleaning.Cleaned) -> Ids:
    """The ids of a record's rows, by what they say."""
    found: Ids = {}
    for row in linking.link(tables, shop).records[record].to_dicts():
        said = tuple(str(value) for name, value in row.items() if name != "row_id")
        found.setdefault(said, []).append(row["row_id"])
    return {said: sorted(some) for said, some in found.items()}


def test_another_row_file_or_place_moves_no_id(shop: Shop) -> None:
    rows = [SANDING | {"seconds": 60 * k} for k in (3, 1, 2, 1)]
    before = ids(shop, "hours", table("hours", *rows))
    first = SANDING | {"on_date": date(2025, 1, 1)}
    after = ids(shop, "hours", table("hours", first, *rows[::-1], file="0.csv"), table("purchases", HINGE))
    assert len(after) == len(before) + 1
    assert {said: some for said, some in after.items() if said in before} == before


def test_of_equal_rows_each_has_an_id_and_one_more_moves_none(shop: Shop) -> None:
    ((two,),) = [ids(shop, "hours", table("hours", SANDING, SANDING)).values()]
    ((three,),) = [ids(shop, "hours", table("hours", SANDING), table("hours", SANDING, SANDING, file="b.csv")).values()]
    assert len({*two}) == 2
    assert {*two} < {*three}


def test_a_second_view_of_a_receipt_takes_no_id_from_the_first(shop: Shop) -> None:
    once = ids(shop, "purchases", table("purchases", HINGE, file="b.csv"))
    assert ids(shop, "purchases", table("purchases", HINGE, file="b.csv"), table("purchases", HINGE)) == once


def test_the_id_is_of_what_cleaning_left(shop: Shop) -> None:
    """A link that leads nowhere yet, and a receipt's freight on each of its lines, are part of what a row says."""
    hours, piece = table("hours", SANDING), table("pieces", {"piece": "P-1", "product": "tray"}, file="p.csv")
    (unlinked,) = linking.link([hours], shop).records["hours"]["row_id"]
    (linked,) = linking.link([hours, piece], shop).records["hours"]["row_id"]
    assert unlinked == linked
    lines = HINGE | {"freight_cents": 300}, HINGE | {"item": "screw", "freight_cents": 300}
    alone = linking.link([table("purchases", lines[1], repeats=True)], shop).records["purchases"]["row_id"]
    both = linking.link([table("purchases", *lines, repeats=True)], shop).records["purchases"]
    assert both.filter(item="screw")["row_id"].to_list() == alone.to_list()
    assert both["freight_cents"].drop_nulls().to_list() == [300]


def test_an_empty_field_and_one_at_its_default_move_no_id() -> None:
    frame = pl.DataFrame({"seconds": [3600], "operation": ["sanding"]})
    wider = frame.with_columns(pl.lit(None, pl.String).alias("bench"), pl.lit(True).alias("attended"))
    one, two = (row_ids.content_of(some, "hours", usual={"attended": True}) for some in (frame, wider))
    assert one.to_list() == two.to_list()
    (told,) = row_ids.content_of(wider.with_columns(attended=False), "hours", usual={"attended": True})
    assert told != one[0]


def test_every_kind_of_value_is_told_from_its_neighbour() -> None:
    frame = pl.DataFrame(
        {
            "on_date": [DAY, date(2026, 1, 6)],
            "started_at": [time(8, 0), time(8, 1)],
            "tags": [["P-1"], ["P-1", "P-2"]],
            "rate": [0.000651, 0.000652],
            "rework": [True, False],
        }
    )
    for column in frame.columns:
        one, two = row_ids.content_of(frame.select(column), "hours")
        assert one != two, column


def test_rows_that_differ_in_a_note_are_neighbours(shop: Shop) -> None:
    noted = [SANDING | {"note": note} for note in ("one", "two", None)]
    some = [i for few in ids(shop, "hours", table("hours", *noted)).values() for i in few]
    assert len({*some}) == 3
    assert len({i >> row_ids.NOTE_BITS for i in some}) == 1


def test_a_setting_has_the_same_id_wherever_it_stands(shop_of: Callable[[str], Shop]) -> None:
    def people(toml: str) -> dict[str, tuple[int, int]]:
        frame = linking.link([], shop_of(toml)).settings["person_rate"]
        return {name: (row_id, place) for name, row_id, place in frame.select("name", "row_id", "position").rows()}

    one, two = people(ADA + BEN), people(BEN + ADA + '[[changes]]\nname = "heater"\nday = 2026-02-01\n')
    assert {name: row_id for name, (row_id, _) in one.items()} == {name: row_id for name, (row_id, _) in two.items()}
    assert (one["Ada"][1], two["Ada"][1]) == (1, 2)
    assert people(ADA.replace("30", "31"))["Ada"][0] != one["Ada"][0]


def test_the_day_of_a_refresh_moves_no_id(shop: Shop) -> None:
    rows = [linking.link([], shop.as_of(day)).settings["shop"]["row_id"][0] for day in (DAY, date(2026, 1, 6))]
    assert len({*rows}) == 1


def test_ids_are_those_of_md5() -> None:
    """MD5 by Python's own library (RFC 1321): a version of DuckDB that hashes otherwise would move every id."""

    def lower(text: str) -> int:
        return int.from_bytes(hashlib.md5(text.encode()).digest()[8:], "little")

    (found,) = row_ids.ids_of(pl.DataFrame({"content": ["hours"], "note": ["knots"]}))
    assert found == (lower("hours") >> 25 << 12) + (lower("hours") + lower("knots")) % 4096
    assert row_ids.BITS == 51


def test_where_hashes_meet_the_later_by_content_is_hashed_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """With 12 bits: 900 rows have ids of their own, the same in any order, and the earliest keeps what is free."""
    rows = pl.DataFrame({"content": [f"hours {n % 600}" for n in range(900)], "note": ["a", None, "b"] * 300})
    monkeypatch.setattr(row_ids, "BITS", 12)
    monkeypatch.setattr(row_ids, "NOTE_BITS", 4)

    def told(some: pl.DataFrame) -> set[tuple[Any, ...]]:
        return {*some.with_columns(row_ids.ids_of(some)).rows()}

    found = told(rows)
    assert len({row_id for *_, row_id in found}) == 900
    assert all(0 < row_id < 2**12 for *_, row_id in found)
    order = Random(4).sample(range(900), 900)
    assert told(rows[order]) == found
    # the first of all keeps what it has when it is alone
    alone = told(rows.sort("content", "note", nulls_last=False).head(1))
    assert alone <= found


def test_ids_that_are_taken_are_not_given_again() -> None:
    rows = pl.DataFrame({"content": ["hours"], "note": [None]}, schema={"content": pl.String, "note": pl.String})
    (first,) = row_ids.ids_of(rows)
    (second,) = row_ids.ids_of(rows, [first])
    assert second not in (0, first)


def test_records_and_settings_share_no_id(shop: Shop) -> None:
    linked = linking.link([table("hours", SANDING, SANDING), table("purchases", HINGE)], shop)
    assert linked.row["row_id"].is_unique().all()
    assert linked.row["row_id"].is_between(1, 2**row_ids.BITS - 1).all()
