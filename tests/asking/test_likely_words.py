"""Words that can mean several things: which one is taken, where that is told, and when it is asked about."""

from pathlib import Path

import pytest

from pipeline.database import open_newest
from pipeline.reference import names, rows
from pipeline.refresh.refresh import refresh
from pipeline.reports.check import findings
from pipeline.shop import load
from tests.refreshed import begun

PIECES = "piece,product,species\nT-1,tray,ash\nT-2,tray,ash\nT-3,tray,walnut\n"


@pytest.mark.parametrize(
    ("settings", "ash", "walnut", "questions"),
    [
        ('currency = "USD"', "white ash", "black walnut", 0),
        ('currency = "CAD"', "white ash", "black walnut", 0),
        ('currency = "EUR"', "European ash", "black walnut", 2),
        ('currency = "EUR"\nregion = "europe"', "European ash", "English walnut", 0),
        ('currency = "EUR"\nregion = "north america"', "white ash", "black walnut", 0),
    ],
)
def test_the_region_chooses_which_wood_a_bare_word_means(
    tiny_shop: Path, settings: str, ash: str, walnut: str, questions: int
) -> None:
    (tiny_shop / "shop.toml").write_text(f"{settings}\nstart = 2026-01-01\n", encoding="utf-8")
    (tiny_shop / "inbox" / "pieces.csv").write_text(PIECES, encoding="utf-8")
    refresh(load(begun(tiny_shop)))
    with open_newest(tiny_shop) as con:
        found = con.execute("select piece, species from records.pieces order by piece").fetchall()
        listed = con.execute("select word, taken, rows from intake.likely_word order by word").fetchall()
        asked = con.execute("select count(*) from intake.question").fetchone()
        told = [f.what for f in findings(con) if f.kind == "likely word"]
    assert found == [("T-1", ash), ("T-2", ash), ("T-3", walnut)]
    assert listed == [("ash", ash, 2), ("walnut", walnut, 1)]
    assert asked == (questions,) and len(told) == 2


def test_what_a_shop_has_taught_is_no_guess(tiny_shop: Path) -> None:
    path = tiny_shop / "shop.toml"
    path.write_text(path.read_text() + '\n[words.species]\nash = "white ash"\nwalnut = "English walnut"\n')
    (tiny_shop / "inbox" / "pieces.csv").write_text(PIECES, encoding="utf-8")
    refresh(load(begun(tiny_shop)))
    with open_newest(tiny_shop) as con:
        assert con.execute("select distinct species from records.pieces order by all").fetchall() == [
            ("English walnut",), ("white ash",)
        ]  # fmt: skip
        assert con.execute("from intake.likely_word").fetchall() == []
        assert con.execute("from intake.question").fetchall() == []


def test_each_meaning_listed_is_a_usual_name_and_each_word_has_several() -> None:
    listed = rows("likely_words")
    assert all(row["source"] for row in listed)
    known = {row["vocabulary"]: set().union(*names(row["vocabulary"]).values()) for row in listed}
    assert [row for row in listed if row["meaning"] not in known[row["vocabulary"]]] == []
    several = {(row["vocabulary"], row["word"]): set() for row in listed}
    for row in listed:
        several[row["vocabulary"], row["word"]].add(row["meaning"])
    assert [word for word, meanings in several.items() if len(meanings) < 2] == []


def test_each_column_is_told_with_its_field_or_why_it_is_none(tiny_shop: Path) -> None:
    (tiny_shop / "inbox" / "till.csv").write_text(
        "Date,Channel,Product,Price,Mood,Customer\n"
        "2026-02-01,market,tray,95.00,fine,J. Doe\n2026-02-02,market,bowl,60.00,,R. Roe\n"
        "2026-02-03,market,bowl,62.00,,\n",
        encoding="utf-8",
    )
    refresh(load(begun(tiny_shop)))
    with open_newest(tiny_shop) as con:
        columns = con.execute("select header, field, why, rows from intake.column order by all").fetchall()
        unused = [f.what for f in findings(con) if f.kind == "column not used"]
    assert ("", None, "about a buyer", 2) in columns and ("Price", "price", "used", 3) in columns
    (mood,) = [column for column in columns if column[0] == "Mood"]
    assert mood[1] is None and mood[3] == 1
    assert (mood[2], bool(unused)) in (("no field is like it", True), ("asked about", False))
    assert "Customer" not in str(columns) and "Doe" not in str(columns)
