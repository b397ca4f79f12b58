"""Cells with several facts: sizes, work with its pieces, how many of what; and the unit that a title names."""

from pathlib import Path

import pytest

from pipeline.cleaning import clean
from pipeline.cleaning.several_facts import sizes
from pipeline.mapping import Mapping
from pipeline.readers import read


@pytest.fixture
def cleaned(tmp_path: Path, plain_shop):
    def of(record: str, text: str, **said):
        path = tmp_path / "a.csv"
        path.write_text(text, encoding="utf-8")
        (table,) = read(path)
        columns = {name: name for name in table.names} | said.pop("columns", {})
        return clean(table, Mapping("m", record=record, columns=columns, **said), plain_shop, "a.csv")

    return of


def test_a_remark_behind_an_amount_is_a_note_and_words_for_nothing_are_none(cleaned):
    text = (
        "date,part_a,part_b,left_in_cup,note\n2026-03-01,100 g,50 g,140 g (made 2 coasters),\n"
        "2026-03-02,100 g,50 g,85g -> test block,two coats\n2026-03-03,100 g,50 g,none,\n2026-03-04,100 g,50 g,?,\n"
        "2026-03-05,100 g,50 g,5 (g),\n"
    )
    found = cleaned("pours", text)
    assert found.frame.select("left_in_cup", "note").rows() == [
        (140_000, "made 2 coasters"), (85_000, "two coats; test block"), (None, None), (None, None),
    ]  # fmt: skip
    assert found.rejected["row"].to_list() == [6]  # a unit in brackets is none that is known there


@pytest.mark.parametrize(
    ("text", "made"),
    [('13" dia', '13 "'), ("dia 280", "280 mm"), ("Ø 32", "32 mm"), ("11 in round", "11 in"), ("30 cm diam.", "30 cm"),
     ("12 1/2\" diameter", '12 1/2 "'), ("Durchmesser 30 cm", "30 cm")],
)  # fmt: skip
def test_a_lone_size_of_something_round_is_its_diameter(text: str, made: str) -> None:
    assert sizes(text, "mm") == {"diameter": made}
    assert sizes("30 cm", "mm") is None


@pytest.mark.parametrize(
    ("text", "made"),
    [
        ("30 x 20 x 2 cm", ("30 cm", "20 cm", "2 cm")),
        ("30x20x2cm", ("30 cm", "20 cm", "2 cm")),
        ("300mm × 20cm × 2cm", ("300 mm", "20 cm", "2 cm")),
        ("30 cm x 20 x 2", ("30 cm", "20 cm", "2 cm")),
        ("30,5 x 20,5 x 2,5 cm", ("30,5 cm", "20,5 cm", "2,5 cm")),
        ('12" x 8" x 3/4"', ('12 "', '8 "', '3/4 "')),
        ("1' 2\" x 8 in x 1 1/2 in", ("1 ' 2\"", "8 in", "1 1/2 in")),
        ("12 by 8 by 1 in", ("12 in", "8 in", "1 in")),
        ("L30 x B20 x H2 cm", ("30 cm", "20 cm", "2 cm")),
        ("20 cm (B) x 30 cm (L) x 2 cm (H)", ("30 cm", "20 cm", "2 cm")),
        ("1 x 6 x 96 in", ("96 in", "6 in", "1 in")),  # sawn wood, from the thickness up
        ("30 x 20 x 2", ("30", "20", "2")),
    ],
)
def test_sizes_in_one_cell(text, made):
    found = sizes(text)
    assert found
    assert tuple(found[name] for name in ("length", "width", "thickness")) == made


def test_two_sizes_are_length_and_width_or_a_round():
    assert sizes("30 x 20 cm") == {"length": "30 cm", "width": "20 cm"}
    assert sizes("Ø 30 x 2 cm") == {"diameter": "30 cm", "thickness": "2 cm"}
    assert sizes("30 x 20", "mm") == {"length": "30 mm", "width": "20 mm"}


@pytest.mark.parametrize(
    "text", ["30 cm", "8/4", "5' 6\"", "3 x", "a x b", "1 x 2 x 3 x 4", "L30 x 20 x 2", "oak x ash"]
)
def test_what_is_no_list_of_sizes_stays(text):
    assert sizes(text) is None


PIECES = "piece,product,{}\nsb-002,board,300 x 200 x 20\nSB-003,board,310 x 210 x 21\n"
WIDE = (300_000, 200_000, 20_000)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (PIECES.format("length (mm)"), {"columns": {"length": "length (mm)"}}),
        (PIECES.format("length"), {"units": {"length": "mm"}}),
        ("Cut list (mm),,\n" + PIECES.format("length"), {}),
        ("All sizes in mm,,\n" + PIECES.format("length"), {}),
        (PIECES.format("length").replace("20\n", "20 mm\n").replace("21\n", "21 mm\n"), {}),
    ],
)
def test_the_unit_of_sizes_stands_behind_in_the_header_the_title_or_the_mapping(cleaned, text, said):
    found = cleaned("pieces", text, **said)
    assert found.frame.select("piece", "length_um", "width_um", "thickness_um").row(0) == ("SB-002", *WIDE)
    assert found.rejected.is_empty()


@pytest.mark.parametrize("title", ["Orders coming in", "Pieces of 2026", "Sizes (mm) and (cm)", "In the making"])
def test_a_title_that_names_no_unit_or_two_says_nothing(cleaned, title):
    found = cleaned("pieces", f'"{title}",,\n' + PIECES.format("length"))
    assert set(found.rejected["code"]) == {"unit-missing"}
    assert found.rejected["text"].to_list() == ["300 x 200 x 20", "310 x 210 x 21"]


def test_sizes_stay_where_a_width_is_told_beside_them(cleaned):
    found = cleaned("pieces", "piece,product,length,width\nsb-002,board,30 x 20 x 2 cm,20 cm\n")
    assert found.rejected["code"].to_list() == ["quantity"]


HOURS = "date,hours,operation{}\n2026-01-05,1.5,{}\n"


@pytest.mark.parametrize(
    ("cell", "operation", "pieces", "rework", "note"),
    [
        ('"Finishing SB-002, dp-001"', "finishing", ["SB-002", "DP-001"], False, None),
        ("SB-002: sanding", "sanding", ["SB-002"], False, None),
        ("Sanding sb-002..sb-004 (rework)", "sanding", ["SB-002", "SB-003", "SB-004"], True, None),
        ("sanding of SB-002 and SB-003", "sanding", ["SB-002", "SB-003"], False, None),
        ("Schleifen SB-002 zweite Lage", "sanding", ["SB-002"], False, "zweite Lage"),
        ("sanding SB-002 for Anna Smith", "sanding", ["SB-002"], False, None),
        ("sanding", "sanding", None, False, None),
        ("sanding P-180", "sanding", None, False, None),  # a grit
        ("frobbing SB-002", "frobbing sb-002", None, False, None),  # listed as not known
    ],
)
def test_work_and_its_pieces_in_one_cell(cleaned, cell, operation, pieces, rework, note):
    (row,) = cleaned("hours", HOURS.format("", cell)).frame.to_dicts()
    assert (row["operation"], row["pieces"], row["rework"], row["note"]) == (operation, pieces, rework, note)


@pytest.mark.parametrize(
    ("operation", "note", "rework", "kept"),
    [
        ("sanding", "Nacharbeit", True, None),
        ("sanding", "Nacharbeit am Rand", False, "Nacharbeit am Rand"),
        ("sanding (rifatto)", "", True, None),
        ("zubbeln (redone)", "", False, None),  # of what is not known the whole is asked about
    ],
)
def test_what_says_that_work_was_done_again_is_rework(cleaned, operation, note, rework, kept):
    (row,) = cleaned("hours", f"date,hours,operation,note\n2026-01-05,1.5,{operation},{note}\n").frame.to_dicts()
    assert (row["rework"], row["note"]) == (rework, kept)


def test_work_stays_as_written_where_the_pieces_are_told_beside_it(cleaned):
    (row,) = cleaned("hours", HOURS.format(",pieces", "sanding SB-002,SB-009")).frame.to_dicts()
    assert (row["operation"], row["pieces"]) == ("sanding sb-002", ["SB-009"])


SALES = "date,channel,product,price\n2026-01-05,market,{},40\n"


def test_how_many_of_what_is_asked_about_unless_the_mapping_says_what_the_price_is_for(cleaned):
    found = cleaned("sales", SALES.format("2x tealight oak"))
    assert found.rejected["code"].to_list() == ["each-or-row"]
    (row,) = cleaned("sales", SALES.format("2x tealight oak"), price_for="row").frame.to_dicts()
    assert (row["product"], row["quantity"], row["price_cents"]) == ("tealight oak", 2, 2000)
    (row,) = cleaned("sales", SALES.format("2 pcs tealight oak"), price_for="each").frame.to_dicts()
    assert (row["product"], row["quantity"], row["price_cents"]) == ("tealight oak", 2, 4000)
    (row,) = cleaned("sales", SALES.format("1 x tray")).frame.to_dicts()
    assert (row["product"], row["quantity"], row["price_cents"]) == ("tray", 1, 4000)


@pytest.mark.parametrize("product", ["2x4 board", "3 x 500 ml glue", "0x tray", "1st quality tray", "2 x 3", "board"])
def test_what_is_no_count_stays(cleaned, product):
    (row,) = cleaned("sales", SALES.format(product)).frame.to_dicts()
    assert (row["product"], row["quantity"]) == (product.lower(), 1)


def test_the_tag_of_what_was_sold_beside_its_name(cleaned):
    (row,) = cleaned("sales", SALES.format("Serving board sb-002")).frame.to_dicts()
    assert (row["product"], row["piece"]) == ("serving board", "SB-002")
    (row,) = cleaned("sales", SALES.format("Boards sb-002 and sb-003")).frame.to_dicts()
    assert (row["product"], row["piece"]) == ("boards sb-002 and sb-003", None)


def test_of_what_was_bought_only_things_that_are_counted_have_a_count(cleaned):
    text = "date,item,amount\n2026-01-05,5x sandpaper 120,9\n2026-01-05,2x oak board,90\n"
    found = cleaned("purchases", text).frame
    assert found.select("item", "quantity", "category").rows() == [
        ("sandpaper 120", 5000, "abrasive"), ("2x oak board", None, "wood"),
    ]  # fmt: skip
