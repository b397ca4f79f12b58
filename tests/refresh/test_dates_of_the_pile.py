"""Dates that may be read both ways are read as the shop's other files show; where these don't agree, it is asked."""

from pathlib import Path

import pytest

from pipeline import database
from tests.refreshed import refreshed

HOURS = "date,hours,person,operation\n{},1,Me,sanding\n"
OPEN = "date,item,category,amount\n03/04/2026,oil,finish,20\n05/04/2026,wax,finish,10\n"
DAY, MONTH, ISO = "25/04/2026", "04/25/2026", "2026-04-25"


def days(shop: Path) -> tuple[list[str], list[str], int]:
    """The days of the purchases, what is said to be taken for likely, and how many questions are asked."""
    refreshed(shop)
    with database.open_newest(shop) as con:
        found = con.execute("select strftime(on_date, '%m-%d') from records.purchases order by all").fetchall()
        taken = con.execute("select taken from intake.likely_word where vocabulary = 'date'").fetchall()
        asked = con.execute("select count(*) from intake.question where ask like '%comes first%'").fetchall()[0][0]
    return [day for (day,) in found], [text for (text,) in taken], asked


def put(shop: Path, **files: str) -> None:
    for name, text in files.items():
        (shop / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")


@pytest.mark.parametrize(
    ("shown", "read"),
    [
        ((DAY, DAY), ["04-03", "04-05"]),
        ((MONTH, MONTH), ["03-04", "05-04"]),
        ((DAY,), []),
        ((DAY, ISO), []),
        ((DAY, DAY, MONTH), []),
        ((ISO, ISO), []),
    ],
)
def test_the_order_that_two_files_prove_holds_for_those_that_prove_none(
    tiny_shop: Path, shown: tuple[str, ...], read: list[str]
) -> None:
    put(tiny_shop, bought=OPEN, **{f"hours{n}": HOURS.format(day) for n, day in enumerate(shown)})
    found, taken, asked = days(tiny_shop)
    assert found == read
    assert bool(taken) == bool(read)
    assert asked == (0 if read else 1)


def test_a_mapping_counts_as_proof_and_its_own_word_holds(tiny_shop: Path) -> None:
    (tiny_shop / "mappings").mkdir()
    (tiny_shop / "mappings" / "b.toml").write_text(
        'files = "bought.csv"\nrecord = "purchases"\ndate_order = "month"\n'
        '[columns]\ndate = "date"\nitem = "item"\ncategory = "category"\namount = "amount"\n',
        encoding="utf-8",
    )
    put(tiny_shop, bought=OPEN, a=HOURS.format(DAY), b=HOURS.format(DAY))
    assert days(tiny_shop)[:2] == (["03-04", "05-04"], [])


def test_what_another_file_proves_holds_as_long_as_it_is_there(tiny_shop: Path) -> None:
    put(tiny_shop, bought=OPEN, a=HOURS.format(DAY), b=HOURS.format(DAY))
    assert days(tiny_shop)[0] == ["04-03", "04-05"]
    put(tiny_shop, b=HOURS.format(ISO))
    assert days(tiny_shop)[0] == []
    put(tiny_shop, b=HOURS.format(DAY), c=HOURS.format(MONTH))
    assert days(tiny_shop)[0] == []
    put(tiny_shop, c=HOURS.format(DAY))
    assert days(tiny_shop)[0] == ["04-03", "04-05"]


YEARLESS = "Date,Operation,Hours\n3/4,sanding,1\n5/14,sanding,2\n"


@pytest.mark.parametrize(
    ("shown", "read"),
    [((MONTH, MONTH), [2026, 2026]), ((MONTH,), []), ((MONTH, "04/25/2025"), [])],
    ids=["one year", "one file", "two years"],
)
def test_dates_without_a_year_are_of_the_only_one_that_other_files_have(
    tiny_shop: Path, shown: tuple[str, ...], read: list[int]
) -> None:
    bought = "date,item,category,amount\n{},oil,finish,20\n"
    put(tiny_shop, shoptime=YEARLESS, **{f"bought{n}": bought.format(day) for n, day in enumerate(shown)})
    refreshed(tiny_shop)
    with database.open_newest(tiny_shop) as con:
        assert [year for (year,) in con.execute("select year(on_date) from records.hours").fetchall()] == read
        taken = con.execute("select taken from intake.likely_word where vocabulary = 'year'").fetchall()
        assert taken == ([("2026, as in your other files",)] if read else [])
        asked = con.execute("select count(*) from intake.question where ask like '%which year%'").fetchall()
        assert asked == [(0 if read else 1,)]


def test_a_year_that_another_file_takes_back_is_asked_about(tiny_shop: Path) -> None:
    """What one file lets in on a later reading may have days of another year."""
    kinds = "date,item,category,amount\n"
    pieces = "piece,product,started,finished\n" + "".join(
        f"T-{n},tray,2026-01-0{n},2026-01-2{n}\n" for n in range(1, 7)
    )
    put(tiny_shop, shoptime=YEARLESS, bought=f"{kinds}04/25/2026,oil,finish,20\n", pieces=pieces)
    refreshed(tiny_shop)
    with database.open_newest(tiny_shop) as con:
        assert con.execute("select count(*) from records.hours").fetchall() == [(2,)]
    put(tiny_shop, older=f"{kinds}04/25/2025,wax,finish,20\n")
    refreshed(tiny_shop)
    with database.open_newest(tiny_shop) as con:
        assert con.execute("select count(*) from records.hours").fetchall() == [(0,)]
        assert con.execute("select count(*) from intake.question where ask like '%which year%'").fetchall() == [(1,)]
