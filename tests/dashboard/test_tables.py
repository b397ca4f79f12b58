"""Tables as HTML and as files."""

import csv
import io
from functools import partial
from pathlib import Path

import polars as pl
import pytest

from dashboard import links, tables, words
from dashboard.data import open_book
from dashboard.view_context import Page, page_of


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_a_cell_that_a_spreadsheet_would_run_is_made_harmless(start: str) -> None:
    # OWASP, "CSV Injection": cells that begin with = + - @ tab or carriage return, and the apostrophe as the mend
    text = tables.csv(pl.DataFrame({"note": [f"{start}cmd|' /C calc'!A0"], "cents": [-5]})).decode()
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert rows[1][0] == f"'{start}cmd|' /C calc'!A0"
    # a number stays a number, whatever its sign
    assert rows[1][1] == "-5"


def test_a_harmless_cell_stays_as_it_is() -> None:
    frame = pl.DataFrame({"note": ["live edge, 2 in", None, "a-b=c"]})
    rows = list(csv.reader(io.StringIO(tables.csv(frame).decode())))
    assert [row[0] if row else "" for row in rows[1:]] == ["live edge, 2 in", "", "a-b=c"]


def test_lists_become_text_and_are_made_harmless_too() -> None:
    frame = pl.DataFrame({"pieces": [["T-1", "T-2"], ["=1+1"], []], "rows": [[1, 2], [3], None]})
    rows = list(csv.reader(io.StringIO(tables.csv(frame).decode())))
    assert rows[1:] == [["T-1; T-2", "1; 2"], ["'=1+1", "3"], ["", ""]]


def test_a_row_opens_its_piece_and_keeps_what_was_chosen() -> None:
    kept = {"month": "2026-05", "species": "white ash", "piece": "T-1", "open": "lot:3", "cover": "true"}
    assert links.address("pieces?piece", "T 2&x", kept) == "pieces?species=white%20ash&piece=T%202%26x"


def test_what_opens_on_the_page_itself_keeps_its_month_and_its_folds() -> None:
    kept = {"month": "2026-05", "open": "lot:3", "cover": "true"}
    assert links.address(*links.behind("lot", 7), kept) == "?month=2026-05&cover=true&open=lot%3A7"


def test_what_is_chosen_on_a_page_alone_does_not_go_to_the_next() -> None:
    kept = {"quote-product": "tray", "product": "wall clock", "length": "20 in", "month": "2026-05"}
    assert links.along(kept) == {"product": "wall clock", "month": "2026-05"}
    # what a link sets stands last, where the page's script looks for it
    assert links.address("?month", "2026-04", kept).endswith("&month=2026-04")


def test_a_heading_may_stand_twice_in_the_grid(demo: Path) -> None:
    columns = [tables.Column("low", "from"), tables.Column("adjusted_low", "from"), tables.Column("level", "Group")]
    frame = pl.DataFrame({"low": [0.1], "adjusted_low": [0.2], "level": ["ash"]})
    grid, _ = tables._grid(page_of(open_book(demo)), frame, columns)
    assert [name.strip() for name in grid.data.columns] == ["from", "from", "Group"]
    assert grid.data.iloc[0].to_list() == [0.1, 0.2, "ash"]


AMOUNTS = pl.DataFrame(
    {
        "cents": [1000, -99950, None], "share": [0.5, 0.125, 1.0], "grams": [1.0, None, 28.349523125],
        "chance": [0.001, None, 0.25], "points": [-0.12, 0.05, None], "sold": [3, None, 1200],
        "there": [1464000, 12000, 350000], "unit": ["mg", "each", "mg"], "day": [None, None, None],
    },
    schema_overrides={"day": pl.Date},
)  # fmt: skip


def amounts(page: Page, money: words.Money) -> list[tables.Column]:
    return [
        tables.Column("cents", "Cost", money, number=True),
        tables.Column("share", "Margin", words.share, number=True),
        tables.Column("grams", "Mixed", page.units.weight, number=True),
        tables.Column("chance", "Chance", words.chance, number=True),
        tables.Column("points", "Change", words.signed_share, number=True),
        tables.Column("sold", "Sold", number=True),
        tables.Column("there", "There", partial(words.amount, units=page.units), number=True, of="unit"),
        tables.Column("day", "Day", words.day),
    ]


def test_numbers_stay_numbers_in_a_grid_so_that_a_heading_sorts_by_them(demo: Path) -> None:
    page = page_of(open_book(demo)).within("metric")
    grid, _ = tables._grid(page, AMOUNTS, amounts(page, words.Money("USD")))
    told = pl.from_pandas(grid.data)
    assert told["Cost"].to_list() == [10.0, -999.5, None]
    assert told["Margin"].to_list() == [50.0, 12.5, 100.0]
    assert told["Chance"].to_list() == [0.001, None, 0.25]
    assert told["Change"].to_list() == [-0.12, 0.05, None]
    assert told["Sold"].to_list() == [3, None, 1200]
    # all weights in grams, so that 350 g come before 1.5 kg
    assert told["There"].to_list() == [1464.0, 12.0, 350.0]
    assert told["Day"].to_list() == [words.DASH] * 3


@pytest.mark.parametrize("currency", ["USD", "JPY", "SEK"])
def test_a_grid_writes_each_number_as_the_table_above_it(demo: Path, currency: str) -> None:
    page = page_of(open_book(demo))
    columns = amounts(page, words.Money(currency))
    grid, told = tables._grid(page, AMOUNTS, columns)
    shown = [line.split(";")[1:] for line in grid.to_string(delimiter=";").splitlines()[1:]]
    assert shown == [[column.text(row) for column in columns] for row in AMOUNTS.iter_rows(named=True)]
    assert shown[1][0] == {"USD": "−\u2060$999.50", "JPY": "−\u2060¥99,950", "SEK": "−\u2060SEK 999.50"}[currency]
    # a format would have the last word
    assert not any(told[heading]["type_config"].get("format") for heading in ("Cost", "Margin", "There"))


def test_a_grid_of_very_many_cells_has_the_browser_write_the_plain_numbers(demo: Path) -> None:
    page = page_of(open_book(demo))
    grid, told = tables._grid(page, AMOUNTS, amounts(page, words.Money("USD")), most=0)
    assert grid["Cost"].to_list() == [10.0, -999.5, None]
    assert told["Cost"]["type_config"]["format"] == "$%,.2f"
    assert told["Margin"]["type_config"]["format"] == "%,.0f %%"
    assert told["Mixed"]["type_config"]["format"] == f"%,.{page.units.weight.digits}f {page.units.weight.name}"
    assert grid["Chance"].to_list() == ["under 1 %", words.DASH, "25 %"]


def test_a_text_too_long_for_one_line_wraps_and_pushes_nothing_off_the_page(demo: Path) -> None:
    frame = pl.DataFrame({"piece": ["T-1", "T-" + "9" * 40], "units": [1, 2]})
    columns = [tables.Column("piece", "Piece", opens="pieces?piece"), tables.Column("units", "Units", number=True)]
    body = tables.rows(page_of(open_book(demo)), frame, columns, "t")
    assert body.count('<td class="long">') == 1
    assert body.count('<td class="num">') == 2


def test_a_download_has_what_the_table_is_made_of_and_nothing_of_how_it_is_shown(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    frame = pl.DataFrame({"file": ["a.csv"], "sheet": [""], "row": [3], "occurrence": [0], "reason": ["Not a date."]})
    shown, made = [], []
    monkeypatch.setattr(tables, "rows", lambda page, frame, *_: shown.append(frame["place"].item()) or "")
    monkeypatch.setattr(tables.st, "html", lambda text: None)
    monkeypatch.setattr(
        tables.st,
        "download_button",
        lambda label, data, *_, **__: made.append(list(csv.reader(io.StringIO(data().decode())))),
    )
    tables.table(None, frame, [tables.Column("place", "Where"), tables.Column("reason", "Why")], "set-aside")
    assert shown == ["a.csv, row 3"]
    assert made == [[["file", "sheet", "row", "occurrence", "reason"], ["a.csv", "", "3", "0", "Not a date."]]]
