"""From every mark and every row to the records behind it: all of them lead somewhere, and what they lead to opens."""

import json
import re
from collections import defaultdict
from datetime import date
from html import unescape
from pathlib import Path
from urllib.parse import parse_qs

import duckdb
import pytest
from streamlit.testing.v1 import AppTest

from dashboard import data, details, links, widgets
from dashboard.app import VIEWS
from dashboard.read.details import _CASH_PLACES
from pipeline.database import open_newest
from tests.dashboard.conftest import Run, html
from tests.refreshed import refreshed

CHOSEN = {
    "month": {"month": "2026-05"},
    "materials": {"month": "2026-05"},
    "rework": {"defect": "fisheye", "pair": "American elm × flood coat", "month": "2026-05"},
    "pricing": {"quote-product": "tray"},
}
BESIDE = {"materials": {"material": "wood"}}
"""The other side of a page that has two."""

LEAD_NOWHERE = {"dictionary", "first-cost", "the-day-so-far"}
"""Tables of what is no figure, and of what has its records just below it."""


def everything(page: Run, demo: Path, path: str, **beside: str) -> AppTest:
    """The page with all its folds open."""
    test = page(path, demo, **CHOSEN.get(path, {}), **beside)
    for _ in range(2):  # a fold may hold another
        for box in test.expander:
            if key := box.proto.id and keyed(box.proto.id):
                test.session_state[key] = True
        test.run()
    assert not test.exception
    return test


def keyed(identity: str) -> str:
    """The key that a widget was given, of its identity in the page."""
    return identity.split("-", 2)[-1] if identity.startswith("$$ID-") else ""


def tables(test: AppTest) -> dict[str, list[str]]:
    """The rows of each table as HTML, by its name."""
    found = {}
    for name, body in re.findall(r'aria-label="([^"]*)"><table class="kl">.*?<tbody>(.*?)</tbody>', html(test), re.S):
        found[unescape(name)] = re.findall("<tr>(.*?)</tr>", body, re.S)
    return found


def charts(test: AppTest) -> list:
    return test.get("vega_lite_chart") or test.get("arrow_vega_lite_chart")


@pytest.fixture(scope="module")
def con(demo: Path) -> duckdb.DuckDBPyConnection:
    return open_newest(demo)


SIDES = [*((view.path, {}) for view in VIEWS), *BESIDE.items()]


@pytest.mark.parametrize(("path", "beside"), SIDES)
def test_every_row_and_every_picture_leads_on(page: Run, demo: Path, path: str, beside: dict[str, str]) -> None:
    test = everything(page, demo, path, **beside)
    for name, rows in tables(test).items():
        if name.replace(" ", "-") not in LEAD_NOWHERE and not name.startswith("lines "):
            assert [row for row in rows if "<a href=" not in row] == [], name
    shown = charts(test)
    # what to do is a list, each line with its place, and its page no picture; what is set has none either
    assert bool(shown) == (path not in ("week", "settings"))
    assert ("kl-week" in html(test)) == (path == "week")
    for chart in shown:
        assert chart.proto.selection_mode, json.loads(chart.proto.spec).get("title")


@pytest.fixture
def leads(page: Run, demo: Path, monkeypatch: pytest.MonkeyPatch) -> set[str]:
    """What can be opened on all pages of the demo: by its rows and by the marks of its pictures."""
    found: set[str] = set()
    shown = widgets.picture

    def spy(*args, opens=None, **named) -> None:
        found.update(value for opens_, value in (opens or {}).values() if opens_ == f"?{links.OPEN}")
        shown(*args, opens=opens, **named)

    monkeypatch.setattr(widgets, "picture", spy)
    for path, beside in SIDES:
        test = everything(page, demo, path, **beside)
        for link in re.findall(r'href="\?([^"]*)"', html(test)):
            found.update(parse_qs(unescape(link)).get(links.OPEN, []))
    return found


def _opened(wanted: str) -> None:
    from dashboard import data, details, widgets

    details._body(widgets.page_of(data.open_book(data.shop_folder())), wanted)


def opened(wanted: str) -> AppTest:
    """What a target opens."""
    test = AppTest.from_function(_opened, args=(wanted,), default_timeout=60).run()
    assert not test.exception, wanted
    return test


def test_whatever_can_be_opened_shows_records_or_pieces(leads: set[str]) -> None:
    kinds: dict[str, list[str]] = defaultdict(list)
    for wanted in sorted(leads):
        kinds[wanted.partition(":")[0]].append(wanted)
    # closed months and words nobody knows are not in the demo, nor is work that its own test opens
    assert set(details.KINDS) - set(kinds) <= {"rows", "word", "tag"}, "nothing in the demo leads to these"
    for several in kinds.values():
        for wanted in {several[0], several[len(several) // 2], several[-1]}:
            said = html(opened(wanted))
            assert details.GONE not in said, wanted
            if wanted.startswith("aside:"):
                continue  # a form
            assert 'class="kl-record"' in said or "pieces?" in said, wanted


@pytest.mark.parametrize(
    "wanted", ["", "nothing:1", "lot:", "lot:x", "row:1~2~x", "line:2026-05-01", "resin:a~b~c~d~e"]
)
def test_an_address_that_opens_nothing_says_so(demo: Path, monkeypatch: pytest.MonkeyPatch, wanted: str) -> None:
    monkeypatch.setenv("KERFLEDGER_SHOP", str(demo))
    assert details.GONE in html(opened(wanted))


def test_a_row_to_mend_is_named_above_its_form(tiny_shop: Path) -> None:
    (tiny_shop / "inbox" / "pieces_2024.csv").write_text("piece,product\nT-1,\nT-2,tray\n", encoding="utf-8")
    refreshed(tiny_shop)
    page = widgets.page_of(data.open_book(tiny_shop))
    (row,) = page.book.set_aside().iter_rows(named=True)
    _, wanted = links.behind("aside", row["file"], row["sheet"], row["row"])
    assert details._title(page, wanted) == r"Mend inbox/pieces\_2024.csv, row 2"
    for other in ("row:5", "aside:", "aside:a~b~c", wanted + "9", wanted + "²"):
        assert details._title(page, other) == "What stands behind it"


def test_parts_of_an_address_come_back_as_they_were() -> None:
    for parts_ in (("a~b", "50 %", "wood/white oak", "×"), ("",), ("2026-05-01",)):
        assert links.target_parts(links.target("kind", *parts_)) == ("kind", [str(part) for part in parts_])
    assert links.target_parts("row") == ("row", [])


def shown_cents(test: AppTest) -> list[int]:
    """The amounts of the records that are open."""
    amounts = re.findall(r'class="kl-cents">([^<]*)<', html(test))
    return [int(re.sub(r"[^0-9-]", "", amount.replace("\u2212", "-"))) for amount in amounts]


def test_the_records_behind_a_step_of_the_resin_come_to_its_figure(demo: Path, con, monkeypatch) -> None:
    monkeypatch.setenv("KERFLEDGER_SHOP", str(demo))
    month, item = con.execute(
        """
        select month, item from material.resin_balance
        where bought_cents > 0 and other_cents + good_cents > 0 order by month desc, item limit 1
        """
    ).fetchall()[0]
    for step in ("bought", "good", "other", "shortage", "opening", "on_hand"):
        (figure,) = con.execute(
            f"select {step}_cents from material.resin_balance where month = ? and item = ?", [month, item]
        ).fetchall()[0]
        test = opened(links.target("resin", item, step, month, widgets.last_day(month), step))
        assert sum(shown_cents(test)) == figure, step


def test_the_records_behind_a_month_come_to_its_result(demo: Path, con, monkeypatch) -> None:
    monkeypatch.setenv("KERFLEDGER_SHOP", str(demo))
    (fees,) = con.execute(
        "select -sum(selling_cents)::bigint from money.month where month in ('2026-05-01', '2026-04-01')"
    ).fetchall()[0]
    test = opened(links.target("months", "2026-05-01", "2026-04-01", "selling", "", "fees"))
    assert sum(shown_cents(test)) == fees


def test_the_sales_behind_a_group_come_to_what_it_brought(demo: Path, con, monkeypatch) -> None:
    monkeypatch.setenv("KERFLEDGER_SHOP", str(demo))
    groups = con.execute(
        "select factor, level, net_revenue_cents from money.margin where span = 'month' and month = '2026-05-01' "
        "and units <> 0 qualify row_number() over (partition by factor order by units desc, level) <= 2 order by all"
    ).fetchall()
    assert len({factor for factor, *_ in groups}) == 6
    for factor, level, brought in groups:
        test = opened(links.target("sold", factor, level, "2026-05-01", "2026-05-31"))
        assert sum(shown_cents(test)) == brought, (factor, level)


def test_the_records_of_a_market_day_say_what_was_taken_there_and_taken_along(tiny_shop: Path, monkeypatch) -> None:
    rows = {
        "pieces": "piece,product,finished,quantity,opening_cost\nT-1,tray,2026-01-04,4,40\n",
        "moves": "date,pieces,place\n2026-02-07,T-1,Spring Fair\n",
        "sales": "date,channel,event,piece,quantity,price,discount\n2026-02-07,market,Spring Fair,T-1,3,90,20\n"
        "2026-02-07,market,Spring Fair,T-1,-1,90,\n",
    }
    for name, text in rows.items():
        (tiny_shop / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
    refreshed(tiny_shop)
    monkeypatch.setenv("KERFLEDGER_SHOP", str(tiny_shop))
    said = html(opened(links.target("event", "SPRINGFAIR")))
    assert re.findall(r'class="kl-cents">([^<]*)</span>2026-02-07 ([a-z ]*)', said) == [
        ("€250.00", "sold"),
        ("\u2212\u2060€90.00", "came back"),
        ("", "taken along"),
    ]


def test_the_records_behind_the_way_to_cash_come_to_its_lines(tiny_shop: Path) -> None:
    rows = {
        "pieces": "piece,product,started,finished,status,ended,opening_cost\nT-1,tray,2026-01-04,2026-01-20,,,40\n"
        "T-2,tray,2026-01-05,2026-01-21,,,\nT-3,tray,2026-01-05,2026-01-21,kept,2026-01-25,20\n",
        "purchases": "date,item,category,quantity,unit,amount,machine\n2026-01-02,oil,finish,1,l,50,\n"
        "2026-01-02,wax,finish,1,l,20,\n2026-01-03,router,equipment,1,each,600,router\n",
        "usage": "date,item,quantity,unit,pieces\n2026-01-15,oil,700,ml,T-1; T-2\n2026-01-16,oil,700,ml,T-2\n"
        "2026-01-16,wax,100,ml,T-2\n",
        "hours": "date,hours,person,operation,pieces\n2026-01-06,2,Ada,sanding,T-2\n2026-02-28,1,Ada,cleaning,\n",
        "sales": "date,channel,piece,price\n2026-01-30,market,T-1,90\n",
    }
    for name, text in rows.items():
        (tiny_shop / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
    settings = (tiny_shop / "shop.toml").read_text(encoding="utf-8")
    machine = '\n[[machines]]\nname = "router"\nmonths = 60\n'
    (tiny_shop / "shop.toml").write_text(settings + machine, encoding="utf-8")
    refreshed(tiny_shop)
    book = data.open_book(tiny_shop)
    way = dict(book.cash_way(date(2026, 1, 1)).select("line", "cents").iter_rows())
    lines = {line: cents for line, cents in way.items() if line in _CASH_PLACES}
    assert set(lines) == set(_CASH_PLACES) - {"pools"}
    for line, cents in lines.items():
        assert book.cash_records(date(2026, 1, 1), line)["cents"].sum() == cents, line


def test_the_lots_behind_a_group_are_those_it_counts(demo: Path, con, monkeypatch) -> None:
    monkeypatch.setenv("KERFLEDGER_SHOP", str(demo))
    for factor, level, lots in con.execute(
        "select factor, level, lots from material.wood_group where factor <> 'all' order by all"
    ).fetchall():
        assert len(shown_cents(opened(links.target("wood", factor, level)))) == lots, level


def test_a_write_down_tells_what_the_piece_was_held_against(demo: Path, con, monkeypatch) -> None:
    monkeypatch.setenv("KERFLEDGER_SHOP", str(demo))
    piece, day, cost, expected, change = con.execute(
        "select piece, month, cost_cents, expected_cents, change_cents from money.write_down "
        "where books_change_cents > 0 and change_cents > books_change_cents order by change_cents desc limit 1"
    ).fetchall()[0]
    said = html(opened(links.target("months", day, day, "write-downs", "", "write-downs")))
    assert f"All of {piece}" in said
    for figure in (cost, expected, change):
        assert f"${figure / 100:,.2f}" in said
    assert "its own pay, which the books leave out" in said
    assert "all of its cost but own pay" in said


def test_the_paper_of_a_receipt_opens_from_its_row(tiny_shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    bought = "date,receipt,item,category,amount\n2026-01-02,R-881,oil,finish,50\n2026-01-03,R-882,wax,finish,20\n"
    (tiny_shop / "inbox" / "purchases.csv").write_text(bought, encoding="utf-8")
    (tiny_shop / "inbox" / "2026 R-881 [scan].jpg").write_bytes(b"\xff\xd8\xff")
    refreshed(tiny_shop)
    monkeypatch.setenv("KERFLEDGER_SHOP", str(tiny_shop))
    with open_newest(tiny_shop) as con:
        rows = dict(con.execute("select receipt, row_id from records.purchases").fetchall())
    papers = {
        receipt: [b.proto.label for b in opened(f"row:{row}").get("download_button")] for receipt, row in rows.items()
    }
    assert papers["R-882"] == []
    (label,) = papers["R-881"]
    assert label.replace("\\", "") == "The paper: 2026 R-881 [scan].jpg"


def test_a_finding_that_names_an_item_of_wood_opens_its_lots(
    demo: Path, con: duckdb.DuckDBPyConnection, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Wood takes turns by its species, and a finding of a check names the item."""
    monkeypatch.setenv(data.SHOP_VARIABLE, str(demo))
    query = "select item, flow from work.lot where category = 'wood' and item <> flow order by item limit 1"
    for name in con.execute(query).fetchall()[0]:
        body = html(opened(links.target("flow", name)))
        assert details.GONE not in body
        assert "kl-record" in body
