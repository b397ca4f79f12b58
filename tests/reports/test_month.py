"""The month report: one page, nothing from the network, the published figures, and two sheets of paper."""

import re
from datetime import date
from html.parser import HTMLParser
from pathlib import Path

import duckdb
import pytest

from pipeline.commands import main
from pipeline.database import open_newest
from pipeline.errors import UserError
from pipeline.reports import month as report
from pipeline.reports.finding import rows_of
from tests.refreshed import refreshed

MAY = date(2026, 5, 1)


@pytest.fixture(scope="module")
def con(demo: Path):
    with open_newest(demo) as opened:
        yield opened


@pytest.fixture(scope="module")
def page(con: duckdb.DuckDBPyConnection) -> str:
    return report.html(con, MAY)


class _Reader(HTMLParser):
    """Collects tags that are left open, what leads elsewhere, and all text."""

    VOID = ("meta", "br", "img", "link")

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.elsewhere: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in self.VOID:
            self.open.append(tag)
        if tag in ("script", "iframe", "link", "img", "object", "embed"):
            self.elsewhere.append(tag)
        self.elsewhere += [f"{tag} {name}={value}" for name, value in attrs if name in ("src", "href", "xlink:href")]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] != "style":
            self.text += f" {data}"


def read(page: str) -> _Reader:
    reader = _Reader()
    reader.feed(page)
    reader.close()
    return reader


def test_it_needs_nothing_but_itself(page: str) -> None:
    reader = read(page)
    assert reader.open == []
    assert reader.elsewhere == []
    assert not re.search(r"https?:|url\(|@import", page)
    assert page.count("<svg") == 2


def test_its_figures_are_the_published_ones(con: duckdb.DuckDBPyConnection, page: str) -> None:
    text = read(page).text.replace("\u2212", "-")
    lines = con.execute(
        "select revenue_cents, result_cents, books_result_cents, pay_per_hour_cents, selling_cents from money.month "
        "where month = $1", [MAY]
    ).fetchall()[0]  # fmt: skip
    revenue, result, books, pay, selling = (cents / 100 for cents in lines)
    for figure in (f"{revenue:,.2f}", f"{result:,.2f}", f"{books:,.2f}", f"{pay:,.2f}", f"{-selling:,.2f}"):
        assert figure in text
    events = con.execute("select event from money.event where on_date between '2026-05-01' and '2026-05-31'").fetchall()
    assert events
    for (event,) in events:
        assert event in text
    before = con.execute("select result_cents from money.month where month = '2026-04-01'").fetchone()[0] / 100
    made = "more" if result > before else "less"
    assert f"May 2026 made {abs(result - before):,.2f} USD {made} than April 2026, mainly by " in text
    assert "What was left for the owners' pay is the result with the own pay counted in it added back" in text


def test_what_is_estimated_is_said_without_minor_units(page: str) -> None:
    saved = re.findall(r"comparable pieces came to (USD [^<]*?)\.<", page)
    assert saved
    span = r"USD [\d,]+ a month \([\d,]+ to [\d,]+, 9 times in 10\)"
    left = r"; what was sold of it left USD [\d,−]+ a month after all cost"
    assert all(re.fullmatch(span + left, said) for said in saved)


def test_resin_is_weighed_in_the_shops_unit(con: duckdb.DuckDBPyConnection, page: str) -> None:
    query = "select poured_g from material.resin_span where span = 'month' and item = 'all resins' and month = $month"
    (poured,) = con.execute(query, {"month": MAY}).fetchone()
    # the demo's shop counts in US units; by definition 16 ounces are 453.59237 g
    assert "Poured, oz" in page
    assert f">{poured * 16 / 453.59237:,.1f}<" in page


def test_its_lines_add_up_to_the_result(con: duckdb.DuckDBPyConnection) -> None:
    months = con.execute("select month, result_cents from money.month").fetchall()
    assert len(months) > 30
    for month, result in months:
        lines = {
            row["line"]: row["cents"]
            for row in rows_of(con, report._queries()["lines"], month=month, shown=report.SHOWN)
        }
        assert sum(cents for line, cents in lines.items() if not line.startswith("Result")) == result
        assert lines["Result with own pay"] == result


def test_pieces_sold_leave_what_their_lines_say(con: duckdb.DuckDBPyConnection) -> None:
    rows = rows_of(con, report._queries()["sold"], month=MAY, shown=report.SHOWN)
    assert rows[0]["all_rows"] > len(rows) == report.SHOWN
    for row in rows:
        assert row["left_cents"] == row["brought_cents"] - (row["cost_cents"] or 0) - (row["selling_cents"] or 0)


BENCH = 'name = "Bench"\ncurrency = "EUR"\nstart = 2025-11-01\n[[people]]\nname = "Ada"\nrate = 30\n'


def test_pieces_sold_have_what_sales_without_a_tag_brought(books) -> None:
    con = books(
        BENCH,
        pieces="piece,product,started,finished,quantity,opening_cost\nT-1,tray,2025-11-02,2025-11-05,2,40\n"
        "T-2,tray,2025-11-02,2025-11-06,1,30\nT-3,bowl,2025-11-02,2025-11-06,1,10\n",
        sales="date,channel,piece,product,quantity,price\n2025-11-10,market,T-3,,1,50\n2025-12-10,market,T-1,,1,100\n"
        "2025-12-11,market,,tray,1,100\n2025-12-12,market,,tray,1,90\n2025-12-13,market,T-3,,-1,50\n",
    )
    december = date(2025, 12, 1)
    rows = rows_of(con, report._queries()["sold"], month=december, shown=report.SHOWN)
    assert [(row["piece"], row["brought_cents"], row["cost_cents"], row["left_cents"]) for row in rows] == [
        ("T-1", 20_000, 4_000, 16_000),
        ("T-2", 9_000, 3_000, 6_000),
        ("T-3", -5_000, -1_000, -4_000),
    ]
    text = read(report.html(con, december)).text
    assert "2 pieces or runs sold in December 2025, 1 that came back" in text
    assert "Together they left 180.00, after cost, own pay in it, and selling." in text


def test_mending_costs_what_its_hours_cost_after_the_sale_too(books) -> None:
    con = books(
        BENCH,
        pieces="piece,product,started,finished\nT-1,tray,2025-11-02,2025-11-05\nT-2,tray,2025-11-02,2025-12-20\n",
        sales="date,channel,piece,price\n2025-12-01,market,T-1,100\n",
        hours="date,hours,person,operation,pieces,rework\n2025-12-02,8,Ada,sanding,T-2,\n2025-12-15,2,Ada,sanding,T-1,yes\n"
        "2025-12-16,1,Ada,sanding,,yes\n2025-12-17,0.5,Ada,sanding,T-2,yes\n",
    )
    assert "Mending took 3.5 hours and EUR 105.00." in read(report.html(con, date(2025, 12, 1))).text


def test_pieces_made_are_those_finished_that_month(con: duckdb.DuckDBPyConnection, page: str) -> None:
    made = con.execute(
        "select piece, unit_cents from cost.piece where finished between '2026-05-01' and '2026-05-31'"
    ).fetchall()
    assert made
    for piece, cents in made:
        assert piece in page
        assert f"{cents / 100:,.2f}" in page


def test_the_pictures_are_told_in_words(page: str) -> None:
    told = re.findall(r'<svg role="img" aria-label="([^"]+)"', page)
    assert "What made the difference to April 2026: price" in told[0]
    assert "by month: Jun 25" in told[1]


def test_it_warns(page: str) -> None:
    text = read(page).text
    assert "no tax advice" in text
    assert "product's data sheet, your local codes and licensed practice" in text


def test_words_of_the_maker_are_no_html(tiny_shop: Path) -> None:
    settings = (tiny_shop / "shop.toml").read_text(encoding="utf-8")
    (tiny_shop / "shop.toml").write_text(settings.replace("Two Benches", "Two <script>Benches"), encoding="utf-8")
    (tiny_shop / "inbox" / "sales.csv").write_text(
        "date,channel,product,price,piece\n2026-03-02,market,tray,60,T-1\n", encoding="utf-8"
    )
    (tiny_shop / "inbox" / "pieces.csv").write_text(
        "piece,product,species,started,finished\nT-1,<b>tray</b>,oak & ash,2026-03-01,2026-03-01\n", encoding="utf-8"
    )
    refreshed(tiny_shop)
    assert main(["report", str(tiny_shop), "--month", "2026-03"]) == 0
    page = (tiny_shop / "reports" / "month-2026-03.html").read_text(encoding="utf-8")
    assert "<script>" not in page
    assert "<b>" not in page
    assert "oak &amp; ash" in page
    assert read(page).open == []


def test_a_month_that_is_not_on_record(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    with pytest.raises(UserError, match="January 1999 is not on record"):
        report.write(con, tmp_path, date(1999, 1, 1))
    assert list(tmp_path.iterdir()) == []


def test_a_month_or_a_year_but_not_both(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for wrong in ([], ["--month", "2026-05", "--year", "2026"], ["--month", "May"]):
        with pytest.raises(SystemExit) as ended:
            main(["report", str(demo), *wrong])
        assert ended.value.code == 2
    assert "write it as 2026-05" in capsys.readouterr().err
