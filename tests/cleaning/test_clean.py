"""Whole tables: every row is loaded or set aside, with its reason."""

from collections.abc import Callable
from datetime import date, time

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests_shop import SHOP

from pipeline import cleaning
from pipeline.cleaning import Cleaned, clean, schema
from pipeline.errors import FAULTS
from pipeline.mapping import Mapping
from pipeline.readers.reader_output import TextTable, frame_of, ignored_of
from pipeline.records import RECORDS
from pipeline.shop import Shop

Make = Callable[..., TextTable]


def cleaned(table: TextTable, record: str, shop: Shop = SHOP, file: str = "a.csv", **mapping: object) -> Cleaned:
    names = {f.name: f.name for f in RECORDS[record] if f.name in table.names}
    return clean(
        table, Mapping("m", record=record, columns={**names, **mapping.pop("columns", {})}, **mapping), shop, file
    )  # type: ignore[arg-type, dict-item]


def codes(found: Cleaned) -> dict[int, str]:
    return dict(found.rejected.select("row", "code").rows())


@pytest.mark.parametrize("record", RECORDS)
def test_the_frame_has_the_stored_columns_even_with_no_row(record: str, table: Make) -> None:
    found = cleaned(table([f.name for f in RECORDS[record]]), record)
    assert dict(found.frame.schema) == schema(RECORDS[record])
    assert found.frame.is_empty() and found.rejected.is_empty()


def test_a_receipt(table: Make, shop: Shop) -> None:
    names = ["date", "item", "category", "quantity", "unit", "amount", "species", "length", "thickness", "receipt"]
    found = cleaned(
        table(
            names,
            ["5/13/2026", "Walnut slab", "lumber", "12 bf", None, "$1,234.50", "walnut", "48 in", "8/4", "r-1"],
            ["5/3/2026", "Clear resin", "epoxy", "1 gal kit", None, "(12.5)", None, None, None, " R 1 "],
            ["5/3/2026", "Screws", "hardware", "50", None, "3", None, None, None, None],
            ["5/3/2026", "Glue", "consumable", "2", "lb", "12.50", None, "5' 6\"", None, None],
        ),
        "purchases",
        shop,
    )
    assert found.rejected.is_empty()
    assert found.frame["on_date"].to_list() == [date(2026, 5, 13), *[date(2026, 5, 3)] * 3]
    assert found.frame["quantity"].to_list() == [28316847, 3785412, 50000, 907185]
    assert found.frame["quantity_unit"].to_list() == ["mm3", "ul", "each", "mg"]
    assert found.frame["amount_cents"].to_list() == [123450, -1250, 300, 1250]
    assert found.frame["item"].to_list() == ["walnut slab", "Clear Resin", "screws", "glue"]
    assert found.frame["receipt"].to_list() == ["R-1", "R1", None, None]
    assert found.frame["length_um"].to_list() == [1219200, None, None, 1676400]
    assert found.frame["thickness_um"].to_list() == [50800, None, None, None]
    assert found.frame["row"].to_list() == [2, 3, 4, 5]
    assert found.frame["file"].unique().to_list() == ["a.csv"]


# one row for each code that cleaning can give: (record, code, cells)
FAULTY = [
    ("hours", "missing", {"operation": None}),
    ("hours", "date", {"date": "soon"}),
    ("hours", "date-order", {"date": "3/4/2026"}),
    ("hours", "date-year", {"date": "14 May"}),
    ("hours", "time", {"started_at": "noon"}),
    ("hours", "duration", {"hours": "a while"}),
    ("hours", "range", {"hours": "-2"}),
    ("hours", "hours", {"hours": None}),
    ("hours", "yes-no", {"rework": "perhaps"}),
    ("hours", "tag", {"pieces": "T-9..T-1"}),
    ("hours", "too-long", {"operation": "x" * 2000}),
    ("purchases", "money", {"amount": "free"}),
    ("purchases", "quantity", {"quantity": "some"}),
    ("purchases", "unit", {"quantity": "2 blobs"}),
    ("purchases", "unit-missing", {"quantity": "2"}),
    ("purchases", "number", {"paid_rate": "high"}),
    ("purchases", "count", {"count": "1.5"}),
    ("purchases", "choice", {"category": "thing"}),
    ("purchases", "ambiguous-word", {"species": "sycamore"}),
    ("pours", "ounces", {"part_a": "12 oz"}),
    ("sales", "each-or-row", {"product": "2x tray"}),
    ("sales", "none-sold", {"quantity": "0", "discount": "20.00"}),
]
SOUND = {
    "hours": {"date": "2026-05-31", "hours": "2", "operation": "sanding"},
    "purchases": {"date": "2026-05-31", "item": "slab", "category": "wood", "amount": "12.50"},
    "pours": {"pour": "P-1", "date": "2026-05-31", "part_a": "12 fl oz"},
    "sales": {"date": "2026-05-31", "channel": "market", "price": "12.50"},
}


@pytest.mark.parametrize(("record", "code", "cells"), FAULTY)
def test_each_fault_sets_its_row_aside_and_leaves_the_others(
    record: str, code: str, cells: dict[str, str | None], table: Make
) -> None:
    sound = SOUND[record]
    names = [*sound, *(name for name in cells if name not in sound)]
    good, bad = [sound.get(n) for n in names], [{**sound, **cells}.get(n) for n in names]
    found = cleaned(table(names, good, bad, good), record)
    assert codes(found) == {3: code}
    assert found.frame["row"].to_list() == [2, 4]
    row = found.rejected.row(0, named=True)
    assert (
        row["reason"].startswith(FAULTS[code].title) and row["suggestion"] and row["record"] == record and row["field"]
    )


def test_every_fault_of_cleaning_has_its_sample() -> None:
    elsewhere = {"tag-twice", "pour-differs"}  # told from several rows, in linking
    elsewhere |= {"torn"}  # test_privacy.py
    elsewhere |= {"tax-differs"}  # test_helper_columns.py
    elsewhere |= {"charge-alone", "charge-of-none", "charge-back", "deposit-row"}  # test_charge_rows.py
    assert {code for _, code, _ in FAULTY} == set(FAULTS) - elsewhere


def test_a_row_with_two_faults_is_set_aside_once_with_the_first(table: Make) -> None:
    found = cleaned(table(["date", "hours", "operation"], ["soon", "a while", None]), "hours")
    assert codes(found) == {2: "date"} and found.rejected.height == 1


def test_an_ambiguous_file_is_set_aside_whole_unless_the_mapping_says(table: Make) -> None:
    rows = [[f"{d}/{m}/2026", "1", "sanding"] for d, m in ((3, 4), (5, 6), (7, 7))]
    asked = cleaned(table(["date", "hours", "operation"], *rows), "hours")
    assert asked.frame.is_empty() and set(codes(asked).values()) == {"date-order"}
    told = cleaned(table(["date", "hours", "operation"], *rows), "hours", date_order="day")
    assert told.frame["on_date"].to_list() == [date(2026, 4, 3), date(2026, 6, 5), date(2026, 7, 7)]


def test_one_column_decides_the_order_of_all(table: Make) -> None:
    found = cleaned(
        table(["piece", "product", "started", "finished"], ["T-1", "clock", "3/4/2026", "28/4/2026"]), "pieces"
    )
    assert found.frame.select("started", "finished").row(0) == (date(2026, 4, 3), date(2026, 4, 28))


def test_one_column_decides_the_decimal_mark_of_all(table: Make) -> None:
    names = ["date", "item", "category", "amount", "tax"]
    found = cleaned(table(names, ["2026-05-31", "slab", "wood", "1.234", "12,50"]), "purchases")
    assert found.frame.select("amount_cents", "tax_cents").row(0) == (123400, 1250)


def test_each_column_decides_its_own_decimal_mark_first(table: Make) -> None:
    names = ["date", "item", "category", "amount", "tax", "quantity", "discount"]
    rows = [["2026-05-31", "oil", "finish", amount, "0,50", "1.5 l", "1.234"] for amount in ("1.234", "12,50")]
    found = cleaned(table(names, *rows), "purchases")
    assert set(codes(found).values()) == {"money"}  # the discount: its own column is open, and the file disagrees
    found = cleaned(table(names[:-1], *(row[:-1] for row in rows)), "purchases")
    assert found.frame.select("amount_cents", "tax_cents", "quantity").row(0) == (123400, 50, 1500000)


def test_thousands_by_shape_must_agree_with_the_file(table: Make) -> None:
    names = ["date", "item", "category", "amount", "quantity"]
    rows = [["2026-05-31", "oil", "finish", amount, None] for amount in ("1.234", "850")]
    found = cleaned(table(names, *rows), "purchases")
    assert found.frame["amount_cents"].to_list() == [123400, 85000]
    rows[1][-1] = "1.5 l"
    found = cleaned(table(names, *rows), "purchases")
    assert found.frame["amount_cents"].to_list() == [85000] and codes(found) == {2: "money"}


def test_a_file_that_contradicts_itself_keeps_only_what_is_sure(table: Make) -> None:
    rows = [["2026-05-31", "slab", "wood", text] for text in ("12,50", "12.50", "1.234")]
    found = cleaned(table(["date", "item", "category", "amount"], *rows), "purchases")
    assert found.frame["amount_cents"].to_list() == [1250, 1250] and codes(found) == {4: "money"}


@pytest.mark.parametrize("file", ["a.xlsx", "A.ODS", "a.jsonl", "a.parquet"])
def test_typed_files_write_numbers_with_a_point(file: str, table: Make) -> None:
    found = cleaned(
        table(["date", "item", "category", "amount"], ["2026-05-31", "slab", "wood", "1.234"]), "purchases", file=file
    )
    assert found.frame["amount_cents"].to_list() == [123]


@pytest.mark.parametrize(
    ("cells", "seconds"),
    [
        ({"hours": "1:45"}, 6300),
        ({"started_at": "9:00", "ended_at": "10:30"}, 5400),
        ({"started_at": "22:30", "ended_at": "1:00"}, 9000),  # ends after midnight
        ({"hours": "2", "started_at": "9:00", "ended_at": "10:30"}, 7200),  # what was written stands
    ],
)
def test_hours_or_both_times(cells: dict[str, str], seconds: int, table: Make) -> None:
    names = ["date", "operation", *cells]
    found = cleaned(table(names, ["2026-05-31", "sanding", *cells.values()]), "hours")
    assert found.frame["seconds"].to_list() == [seconds]


@pytest.mark.parametrize("cells", [{}, {"started_at": "9:00"}, {"started_at": "9:00", "ended_at": "9:00"}])
def test_no_hours(cells: dict[str, str], table: Make) -> None:
    names = ["date", "operation", *cells]
    assert codes(cleaned(table(names, ["2026-05-31", "sanding", *cells.values()]), "hours")) == {2: "hours"}


def test_defaults_fill_empty_cells_only(table: Make) -> None:
    found = cleaned(
        table(["date", "hours", "operation", "attended", "rework"], ["2026-05-31", "1", "sanding", None, "yes"]),
        "hours",
    )
    assert found.frame.select("attended", "rework").row(0) == (True, True)
    assert cleaned(table(["piece", "product"], ["T-1", "clock"]), "pieces").frame["quantity"].to_list() == [1]
    assert cleaned(table(["piece", "date"], ["T-1", "2026-05-31"]), "inspections").frame["defect"].to_list() == ["none"]


def test_constants_fill_every_row(table: Make) -> None:
    found = cleaned(table(["date", "price"], ["2026-05-31", "40"]), "sales", constants={"channel": "Market"})
    assert found.frame["channel"].to_list() == ["market"]


@pytest.mark.parametrize(
    ("price", "tax", "quantity", "net"),
    [
        ("119", "19", "1", 10000),
        ("119", "38", "2", 10000),
        ("10", "0.05", "2", 998),
        ("10", "0.15", "2", 992),
        ("119", "-19", "-1", 10000),
        ("119", None, "1", 11900),
    ],
)
def test_tax_inside_the_price_is_taken_off_by_unit(
    price: str, tax: str | None, quantity: str, net: int, table: Make
) -> None:
    # half cents go to the even cent: 2.5 to 2 and 7.5 to 8
    row = ["2026-05-31", "market", price, tax, quantity]
    found = cleaned(
        table(["date", "channel", "price", "sales_tax", "quantity"], row), "sales", tax_included=True, decimal="."
    )
    assert found.frame["price_cents"].to_list() == [net]
    without = cleaned(table(["date", "channel", "price", "sales_tax", "quantity"], row), "sales", decimal=".")
    assert without.frame["price_cents"].to_list() == [round(float(price) * 100)]


def test_money_paid_in_another_currency(table: Make, shop: Shop) -> None:
    names = ["date", "item", "category", "amount", "tax", "paid_currency", "paid_rate"]
    found = cleaned(
        table(
            names,
            ["2026-05-31", "bit", "tool", "€ 10.25", "1", "eur", "1.1"],
            ["2026-05-31", "bit", "tool", "10.25", "1", "USD", None],
            ["2026-05-31", "bit", "tool", "10.25", "1", "EUR", None],
            ["2026-05-31", "bit", "tool", "€ 10.25", "1", None, None],
            ["2026-05-31", "bit", "tool", "$ 10.25", "1", "EUR", "1.1"],
        ),
        "purchases",
        shop,
    )
    assert found.frame.select("row", "amount_cents", "tax_cents").rows() == [
        (2, 1128, 110),
        (3, 1025, 100),
    ]  # 1127.5 to even
    assert codes(found) == {4: "missing", 5: "money", 6: "money"}


@pytest.mark.parametrize(
    ("header", "cells", "um"),
    [
        ("Length (in)", "48", 1219200),
        ("length_cm", "120", 1200000),
        ("Länge [mm]", "1200", 1200000),
        ("Length in inches", "48", 1219200),
        ("Length (in)", "120 cm", 1200000),
    ],
)
def test_a_header_names_the_unit(header: str, cells: str, um: int, table: Make) -> None:
    found = cleaned(table(["piece", "product", header], ["T-1", "tray", cells]), "pieces", columns={"length": header})
    assert found.frame["length_um"].to_list() == [um]


def test_the_mapping_names_the_unit(table: Make) -> None:
    names = ["piece", "product", "length"]
    found = cleaned(table(names, ["T-1", "tray", "48"]), "pieces", units={"length": "in"})
    assert found.frame["length_um"].to_list() == [1219200]
    assert codes(cleaned(table(names, ["T-1", "tray", "48"]), "pieces")) == {2: "unit-missing"}


def test_an_item_that_is_counted_by_the_piece(table: Make, shop: Shop) -> None:
    rows = [["2026-05-31", "Clock movement", "3"], ["2026-05-31", "Clear resin", "3"]]
    found = cleaned(table(["date", "item", "quantity"], *rows), "usage", shop)
    assert found.frame.select("item", "quantity", "quantity_unit").rows() == [("Clock Movement", 3000, "each")]
    assert codes(found) == {3: "unit-missing"}


def test_marks_for_nothing_are_empty_cells(table: Make) -> None:
    found = cleaned(
        table(
            ["date", "item", "category", "amount", "tax", "note"], ["2026-05-31", "\ufeffslab", "wood", "5", "-", "n/a"]
        ),
        "purchases",
    )
    assert found.frame.select("item", "tax_cents", "note").row(0) == ("slab", None, None)


def test_times_of_the_day(table: Make) -> None:
    found = cleaned(
        table(["date", "started_at", "ended_at", "operation"], ["2026-05-31", "2:30 PM", "15h00", "sanding"]), "hours"
    )
    assert found.frame.select("started_at", "ended_at", "seconds").row(0) == (time(14, 30), time(15), 1800)


def test_unknown_words_are_counted(table: Make) -> None:
    rows = [[f"T-{i}", "tray", species] for i, species in enumerate(["Blak walnt", "blak  walnt", "walnut", "quux"])]
    found = cleaned(table(["piece", "product", "species"], *rows), "pieces")
    assert found.unknown_words.select("word", "nearest", "rows").rows() == [
        ("blak walnt", "black walnut", 2),
        ("quux", None, 1),
    ]


CELL = st.one_of(
    st.none(),
    st.text(max_size=12),
    st.sampled_from(["2026-05-31", "3/4/2026", "12.50", "1.234", "12 bf", "T-1..T-3", "yes", "walnut", "1:45"]),
)


@pytest.mark.parametrize("record", RECORDS)
@settings(max_examples=25)
@given(data=st.data())
def test_no_row_is_lost_and_nothing_raises(record: str, data: st.DataObject) -> None:
    names = [f.name for f in RECORDS[record]]
    rows = data.draw(st.lists(st.lists(CELL, min_size=len(names), max_size=len(names)), max_size=6))
    made = TextTable("", tuple(names), frame_of(rows, range(2, 2 + len(rows)), len(names)), ignored_of([]))
    found = cleaned(made, record)
    of_rows = pl.concat([found.frame["row"], found.rejected["row"]])
    assert set(of_rows) == set(range(2, 2 + len(rows)))
    # only a pour over several pieces becomes more than one
    assert of_rows.is_unique().all() or record == "pours"
    assert set(found.rejected["code"]) <= set(FAULTS)
    assert dict(found.frame.schema) == schema(RECORDS[record])


def test_every_kind_of_field_has_its_reader() -> None:
    kinds = {f.kind for record in RECORDS.values() for f in record}
    assert kinds - {"unit", "quantity"} == set(cleaning.KINDS)


def test_all_rows_are_read_alike_whatever_their_number(table: Make) -> None:
    row = ["2026-05-31", "1:45", "sanding", "T-1; T-2"]
    found = cleaned(table(["date", "hours", "operation", "pieces"], *[row] * 1000), "hours")
    assert found.frame.select(pl.exclude("row")).unique().height == 1 and found.frame.height == 1000
