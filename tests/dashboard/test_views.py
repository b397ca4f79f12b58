"""Every page, run headless: on the demo, and on a shop without a single record."""

import json
import re
import shutil
from datetime import date
from decimal import Decimal
from html import unescape
from pathlib import Path
from types import SimpleNamespace
from typing import cast
from urllib.parse import parse_qs

import duckdb
import polars as pl
import pytest

from dashboard import data, links
from dashboard.app import VIEWS
from dashboard.sections import market, rework_course, rework_tries
from dashboard.views import log, month, pieces, pricing
from dashboard.widgets import Page, page_of
from dashboard.words import Money, half_up
from pipeline.database import open_newest
from pipeline.pages import actions
from tests.dashboard.conftest import Run, heading, html
from tests.dashboard.test_behind import opened
from tests.refreshed import refreshed

PATHS = [view.path for view in VIEWS]
SEPTEMBER, OCTOBER = date(2026, 9, 1), date(2026, 10, 1)


@pytest.fixture(scope="module")
def con(demo: Path) -> duckdb.DuckDBPyConnection:
    return open_newest(demo)


@pytest.mark.parametrize("path", PATHS)
def test_a_page_answers_its_question_with_a_figure(page: Run, demo: Path, path: str) -> None:
    test = page(path, demo)
    assert not test.exception
    assert re.search(r"\d", heading(test))
    # what to do is a list, and so are settings; why rows of files are set aside is drawn behind a fold
    drawn = bool(test.get("vega_lite_chart") or test.get("arrow_vega_lite_chart"))
    assert drawn == (path not in ("week", "files", "settings"))


@pytest.mark.parametrize("path", PATHS)
def test_a_page_without_records_says_what_would_fill_it(page: Run, bare: Path, path: str) -> None:
    test = page(path, bare)
    assert not test.exception
    assert heading(test)
    assert "`" not in html(test)
    assert "kl-do" in html(test) or path == "settings"  # settings need no record


@pytest.mark.parametrize("path", ["materials", "rework", "files", "month", "pricing", "stock"])
def test_a_page_says_what_to_mind(page: Run, demo: Path, path: str) -> None:
    assert 'class="kl-mind"' in html(page(path, demo))


def test_the_month_is_the_one_in_the_address(page: Run, demo: Path, con: duckdb.DuckDBPyConnection) -> None:
    query = """
        select result_cents, pay_per_hour_cents, books_result_cents + owners_paid_cents, owner_hours from money.month
        where month = ?
    """
    now, before = (con.execute(query, [month]).fetchall()[0] for month in ("2026-05-01", "2026-04-01"))
    test = page("month", demo, month="2026-05")
    verb, change = "made" if now[0] >= 0 else "lost", "better" if now[0] > before[0] else "worse"
    said = (
        f"May 2026 {verb} ${abs(now[0]) / 100:,.0f} after your own pay, ${abs(now[0] - before[0]) / 100:,.0f} {change}"
    )
    assert heading(test) == f"{said} than April."
    # the hour with what it is made of: the books before the owners' pay, over their hours; and the month before's
    tiles = unescape(html(test))
    assert f">${now[1] / 100:,.2f}</a></dd><dd>${now[2] / 100:,.0f} left over {now[3]:.0f} owners' hours" in tiles
    assert f"; April: ${before[1] / 100:,.2f}</dd>" in tiles


def test_a_month_without_hours_has_no_pay_for_an_hour(page: Run, demo: Path, con: duckdb.DuckDBPyConnection) -> None:
    (last,) = con.execute("select max(month) from money.month where owner_hours = 0").fetchall()[0]
    test = page("month", demo, month=f"{last:%Y-%m}", course="true")
    assert not test.exception
    assert ">no hours</a></dd><dd>no hours of yours are on record" in html(test)
    assert f"No hours in {last:%B %Y}" in html(test)


def test_a_month_of_few_hours_says_so_and_no_pay_for_an_hour(con: duckdb.DuckDBPyConnection) -> None:
    row = con.sql("from money.month where month = '2026-05-01'").pl().row(0, named=True)
    few = row | {"owner_hours": 0.004, "pay_per_hour_cents": None}
    shop = cast(Page, SimpleNamespace(money=Money("USD")))
    assert month._hours(shop, few) == "too few hours on record to say what an hour paid"
    assert month._then(few, row, "pay_per_hour_cents", shop.money.exact) == ""
    assert month._then(None, row, "result_cents", shop.money.exact) == ""
    # a month that is not over is compared with nothing
    for now, before in ((few | {"whole": False}, row), (few, None)):
        assert month._sentence(shop, now, before, "the month before").endswith(" after your own pay.")


def test_parts_of_a_cost_that_are_not_its_middle_one_say_why() -> None:
    shop = cast(Page, SimpleNamespace(money=Money("USD")))
    less, more, same = (pricing.parts_and_middle(shop, 27_000, middle) for middle in (26_000, 27_600, 27_000))
    parts = "The parts are of a piece with the usual hours and material: $270.00 together"
    often = "most such pieces never come back"
    assert less == f"{parts}, a share of the usual rework in it. The middle one costs $260.00, since {often}."
    assert more == f"{parts}. The middle one costs $276.00, since what goes wrong adds more than what goes well saves."
    assert same == f"{parts}, as much as the middle one."


def test_a_month_is_compared_with_none_that_has_no_records(page: Run, tiny_shop: Path) -> None:
    shop = begun(
        tiny_shop,
        hours="date,hours,person,operation\n2026-09-03,5,Ada,cleaning\n2026-11-03,9,Ada,cleaning\n2026-12-01,1,Ada,cleaning\n",
    )
    for which, said in (
        ("2026-11", "There is no record of the month before."),
        ("2026-10", "There is no record of this month to compare."),
    ):
        test = page("month", shop, month=which, difference="true")
        assert not test.exception
        assert " than " not in heading(test)
        assert said in html(test)
        assert 'href="?difference' not in html(test)
    compared = page("month", shop, month="2026-12")
    assert "The difference to November 2026" in " ".join(box.label for box in compared.expander)


def test_the_steps_of_a_month_come_to_its_result(con: duckdb.DuckDBPyConnection) -> None:
    from dashboard.views.month import STEPS

    columns = {step: f"{sign} * {column}" for step, (column, sign, _, _) in STEPS.items()}
    total = " + ".join(term for step, term in columns.items() if step != "Result")
    wrong = con.execute(f"select month from money.month where {total} <> {columns['Result']}").fetchall()
    assert wrong == []


def test_each_step_of_a_month_is_the_sum_of_the_lines_behind_it(con: duckdb.DuckDBPyConnection) -> None:
    from dashboard.views.month import STEPS

    query = """
        select coalesce(sum(cents), 0) from money.line left join settings.layer using (layer)
        where month = '2026-05-01' and line = $line and $group in ('', cost_group)
    """
    for step, (column, sign, line, group) in STEPS.items():
        if line:
            figure = con.execute(f"select {sign} * {column} from money.month where month = '2026-05-01'").fetchall()[0][
                0
            ]
            behind = con.execute(query, {"line": line, "group": group}).fetchall()[0][0]
            assert behind == figure, step


def test_the_bridge_leads_from_the_other_month_to_this_one(page: Run, demo: Path) -> None:
    for against in ("the month before", "the same month last year"):
        test = page("month", demo, month="2026-05", against=against, difference="true")
        assert not test.exception
        assert "May 2026 made" in html(test)
        other = "April" if "before" in against else "May 2025"
        assert re.search(rf" after your own pay, \$[\d,]+ (better|worse) than {other}\.$", heading(test))
        (label,) = [box.label for box in test.expander if box.label.startswith("The difference to")]
        assert re.search(r"\$[\d,]+ (better|worse), mainly by ", label)
    first = page("month", demo, month="2023-11")
    assert not first.exception
    assert "There is no record of the month before." in html(first)


def test_from_a_piece_to_its_records_is_one_click(page: Run, demo: Path, con: duckdb.DuckDBPyConnection) -> None:
    tag, cents = con.execute(
        "select piece, labour_cents from cost.piece where labour_cents > 0 order by made_cents desc limit 1"
    ).fetchall()[0]
    row = con.execute(
        """
        select rows.file, rows.row from cost.trace join intake.row as rows using (row_id)
        where piece = ? and layer = 'labour' and to_place = 'piece' order by all limit 1
        """,
        [tag],
    ).fetchall()[0]
    test = page("pieces", demo, piece=tag, layers="true")
    assert tag in heading(test)
    line = re.search(r'<a href="\?([^"]*)" target="_self">work</a></td><td class="num">([^<]*)<', html(test))
    assert line
    assert line[2] == f"${cents / 100:,.2f}"
    (wanted,) = parse_qs(unescape(line[1]))["open"]
    said = html(opened(wanted))
    assert f"{row[0]}, row {row[1]}" in said
    # who was paid, at which rate
    assert re.search(r"paid by \w+'s hourly rate in shop.toml, from \d{4}-\d\d-\d\d", unescape(said))


def test_the_hours_in_a_piece_are_those_of_its_lines(con: duckdb.DuckDBPyConnection) -> None:
    query = """
        select piece.piece from cost.piece as piece
        left join cost.piece_line as line on line.piece = piece.piece and line.layer = 'labour'
        group by piece.piece, piece.hours having abs(piece.hours - coalesce(sum(line.hours), 0)) > 1e-9
    """
    assert con.execute(query).fetchall() == []


def test_a_share_of_a_row_of_hours_says_how_it_was_shared(page: Run, demo: Path, con) -> None:
    query = """
        select any_value(share.piece), share.row_id, min(hours.seconds), count(*) from work.hours_piece as share
        join work.hours as hours on hours.row_id = share.row_id and not share.assumed and not share.after_sale
        join cost.piece as piece on piece.piece = share.piece and piece.alone_hours > 0
        where hours.operation = 'sawing' and hours.driver = share.shared_by
        group by share.row_id having count(*) = 3 order by share.row_id limit 1
    """
    tag, _, seconds, _ = con.execute(query).fetchall()[0]
    tiles = html(page("pieces", demo, piece=tag))
    said = "".join(html(opened(links.target("layer", tag, layer))) for layer in ("labour", "machine"))
    assert f"h of {seconds / 3600:.2f} h for 3 pieces, shared by blank volume, the rule for sawing<" in said
    assert re.search(r"of it rework; a machine ran \d+\.\d h more alone; ", tiles)
    assert '<span class="kl-flag">ran alone</span>' in said


def test_a_filter_leaves_only_pieces_of_its_kind(page: Run, demo: Path) -> None:
    test = page("pieces", demo, species="American elm", product="tray")
    assert not test.exception
    assert "a tray in American elm" in heading(test)


def test_a_kind_that_nobody_made_is_said_to_be_so(page: Run, demo: Path) -> None:
    test = page("pieces", demo, species="American beech", product="side table", finish="cast river")
    assert not test.exception
    assert heading(test) == "No piece is of this kind."


@pytest.mark.parametrize("by", ["finish", "cold room", "coat"])
def test_rework_is_shown_by_other_factors(page: Run, demo: Path, by: str) -> None:
    test = page("rework", demo, by=by)
    assert not test.exception
    assert by in heading(test)


def test_resin_is_shown_by_product_and_span(page: Run, demo: Path) -> None:
    test = page("materials", demo, resin="coating resin", span="a month", month="2026-08")
    assert not test.exception
    assert heading(test).startswith("In August 2026")


def test_a_long_table_opens_to_the_end(page: Run, demo: Path) -> None:
    test = page("files", demo)
    test.session_state["rest-dictionary"] = True
    test.session_state["dictionary"] = True
    test.run()
    assert not test.exception
    assert test.dataframe


def test_the_dictionary_has_a_meaning_for_each_table_and_column(demo: Path) -> None:
    told = data.open_book(demo).dictionary()
    assert told.height > 800
    assert {"checks.result", "intake.question", "money.month"} <= set(told["table"])
    without = told.filter(pl.any_horizontal(pl.col("table_meaning", "meaning").fill_null("") == ""))
    assert without.select("table", "column").rows() == []


def test_a_heading_tells_the_meaning_that_the_dictionary_holds(page: Run, demo: Path) -> None:
    said = html(page("pieces", demo, others="true"))
    told = re.search(
        r'<button(?: tabindex="-1")? type="button" popovertarget="([^"]+)" aria-describedby="\1">Each</button>', said
    )
    assert told
    assert f'popover id="{told[1]}" role="tooltip">Cost of one good unit of the run.<' in said


def open_folds(test, *keys: str):
    """Open folds by their keys and run again."""
    for key in keys:
        test.session_state[key] = True
    return test.run()


def test_a_filter_holds_for_records_and_pieces_of_a_month(page: Run, demo: Path, con) -> None:
    query = """
        select count(*) from money.line join cost.piece using (piece)
        where month = '2026-05-01' and line = 'revenue' and product = 'tray'
    """
    trays = con.execute(query).fetchall()[0][0]
    test = page("month", demo, month="2026-05", product="tray", records="true")
    assert not test.exception
    said = html(test)
    assert "Only tray: the records behind a figure" in said
    assert said.count('class="kl-record"') == trays
    # the result itself stays the whole shop's
    assert heading(test) == heading(page("month", demo, month="2026-05"))


def test_a_piece_fits_the_channel_where_it_was_sold(page: Run, demo: Path, con) -> None:
    wanted = con.execute("select count(distinct piece) from records.sales where channel = 'gallery'").fetchall()[0][0]
    test = page("pieces", demo, channel="gallery", others="true")
    assert not test.exception
    assert f"{wanted} piece" in html(test).partition("by what one of each cost")[0].rpartition("kl-title")[2]


def test_a_piece_that_the_address_names_is_shown_whatever_the_filters(page: Run, demo: Path, con) -> None:
    tag = con.execute("select piece from cost.piece where product = 'tray' order by piece limit 1").fetchall()[0][0]
    test = page("pieces", demo, product="wall clock", piece=tag)
    assert not test.exception
    assert heading(test).startswith(f"{tag}, a tray")


def test_the_folds_of_a_month_hold_what_their_label_says(page: Run, demo: Path, con) -> None:
    folds = ("make-more", "break-even", "events", "write-downs", "cash", "course", "groups", "months", "rules")
    shut = page("month", demo, month="2026-05")
    test = open_folds(page("month", demo, month="2026-05"), *folds, "difference", "records", "earned")
    assert not test.exception
    assert [box.label for box in shut.expander if box.proto.expanded] == []
    assert len(html(test)) > 4 * len(html(shut))  # nothing folded is worked out
    (end,) = con.execute("select cash_end_cents from money.month where month = '2026-05-01'").fetchall()[0]
    assert f"The cash beside it: \\${end / 100:,.0f} at the end of the month" in [box.label for box in test.expander]


def test_materials_are_shown_in_money_and_in_other_units(page: Run, demo: Path, con) -> None:
    grams, cents = con.execute(
        """
        select good_g, good_cents from material.resin_span
        where item = 'all resins' and span = 'twelve months' and month = '2026-08-01'
        """
    ).fetchall()[0]
    metric = page("materials", demo, month="2026-08", units="metric")
    assert f"{grams / 1000:,.1f} kg in pieces" in html(metric)
    us = page("materials", demo, month="2026-08", units="us")
    assert f"{grams / 453.59237:,.1f} lb in pieces" in html(us)
    money = page("materials", demo, month="2026-08", shown="money")
    assert f"${cents / 100:,.0f} in pieces" in html(money)
    for test in (metric, us, money):
        open_folds(
            test, "balance", "weighed", "need-groups", "worst-pours", "mix-hint", "resin-lots", "agrees", "rules"
        )
        assert not test.exception
    for shown in ("quantity", "money"):
        test = page("materials", demo, material="wood", shown=shown)
        open_folds(test, "wood-groups", "lots")
        assert not test.exception
        assert "bf costs" in html(test)


def test_the_yield_of_wood_is_of_what_is_gone_and_what_is_uncut_stands_apart(page: Run, demo: Path, con) -> None:
    share, low, high, gone, left, bought = con.execute(
        "select gone_yield_share, gone_low_share, gone_high_share, gone_dm3, on_hand_dm3, bought_dm3 "
        "from material.wood_group where factor = 'all'"
    ).fetchall()[0]
    assert left > 0
    test = page("materials", demo, material="wood", units="metric")
    said = html(test).replace("\xa0", " ")
    assert (
        heading(test).replace("\xa0", " ")
        == f"So far, {100 * share:.0f} % of the wood that is gone became finished work."
    )
    assert f"of {gone:,.1f} dm³ gone; {100 * low:.0f} to {100 * high:.0f} %, 19 times in 20" in said
    assert f">{left:,.1f} dm³</a></dd><dd>of {bought:,.1f} dm³ in " in said
    # no dot of the picture lies beside its bar
    assert not con.execute(
        "from material.wood_group where not gone_yield_share between gone_low_share and gone_high_share"
    ).fetchall()


def test_the_most_suspect_measurement_is_named(page: Run, demo: Path, con) -> None:
    test = page("materials", demo)
    label = next(box.label for box in test.expander if box.label.startswith("Bought, counted, mixed and weighed"))
    suspect = con.execute(
        "select figure from material.reconciled where suspect order by abs(standardised) desc limit 1"
    ).fetchall()
    off = con.execute("select count(*) from material.reconciled_stretch where not agrees").fetchall()[0][0]
    assert ("do not agree" in label) == bool(off)
    assert ("most suspect" in label) == bool(suspect)
    if suspect:
        assert suspect[0][0] in label


def test_a_pour_is_opened_by_its_tag(page: Run, demo: Path, con) -> None:
    pour, row = con.execute(
        "select pour, rows.row from material.pour join intake.row as rows using (row_id) order by pour limit 1"
    ).fetchall()[0]
    test = page("materials", demo, pour=pour)
    assert not test.exception
    assert f"The records behind pour {pour}" in html(test)
    assert f"row {row}" in html(test)


def test_defects_are_told_of_the_pieces_chosen(page: Run, demo: Path, con) -> None:
    test = page("rework", demo, species="American elm", defects="true")
    assert not test.exception
    assert re.fullmatch(r"American elm: \d+ of \d+ pieces came back for rework\.", heading(test))
    defect, cents = con.execute(
        """
        select defect, sum(cents) from quality.found join cost.piece using (piece)
        where species = 'American elm' group by defect, action order by 2 desc, 1 limit 1
        """
    ).fetchall()[0]
    assert f"costs most (American elm): ${cents / 100:,.0f}" in html(test)
    assert defect.casefold() in html(test).casefold()


def test_a_comparison_is_no_cause_and_never_sure(page: Run, demo: Path, con) -> None:
    """What is clear of zero is a try, the cheapest to do first, with both counts and beside what it earns."""
    test = page("rework", demo, **{"more-rework": "true", "before-and-after": "true", "more-to-do": "true"})
    said = unescape(html(test)).replace("\xa0", " ")
    clear = con.execute(
        """
        select saving.level, saving.cents_per_month, saving.low, saving.high, contribution_per_hour_cents,
            counted.events, counted.pieces, every.events - counted.events, every.pieces - counted.pieces
        from quality.saving as saving join money.margin using (factor, level)
        join quality.rate as counted using (factor, level)
        join (select factor, sum(events) as events, sum(pieces) as pieces from quality.rate
              where measure = 'rework' group by factor) as every using (factor)
        where clear and span = 'all' and measure = 'rework' order by factor desc, saving.cents_per_month desc
        """
    ).fetchall()
    assert len(clear) == 3  # a wood and two finishes
    for level, cents, low, high, left, came, of, others, of_others in clear:
        counts = f"{level[:1].upper()}{level[1:]}: {came} of {of} came back, else {others} of {of_others}; look at"
        assert counts in said
        span = f"(${low / 100:,.0f} to ${high / 100:,.0f}, 9 in 10)"
        beyond = f"${cents / 100:,.0f} more rework a month than alike pieces {span}"
        assert f"{beyond}; sold, they leave ${left / 100:,.2f} an hour for pay and rent." in said
    lines = re.findall(r"<li>(.*?)</li>", said.partition("What to do about it")[2].partition("</ul>")[0])
    assert [line.partition(":")[0] for line in lines] == [
        "Stirred too short",
        *(level.capitalize() for level, *_ in clear[:2]),
    ]
    assert f"<li>{clear[2][0].capitalize()}: " in said.partition("What to do about it")[2].partition("</ul>")[2]
    assert "; try the data sheet's time for 20 pours. " in lines[0]
    assert not con.execute("from quality.saving where clear and low <= 0").fetchall()
    assert "over 95 % sure that it is worse, if nothing but wood, finish" in said
    assert "over 99" not in said
    assert "pieces came back before" in said
    assert "22 of 125 after. Too close to say that it differs." in said
    assert not re.search(r"\b(because of|helped|would save|saves)\b", said)


def test_before_and_after_a_change_is_told_in_few_words() -> None:
    row = {
        "change": "timer", "day": date(2026, 3, 2), "events_before": 29, "pieces_before": 140, "events_after": 9,
        "pieces_after": 125, "low": -0.1, "high": -0.05, "trend_low": -0.2, "trend_high": 0.05, "chance_falling": 0.5,
    }  # fmt: skip
    of = {
        "Fewer, but the shop's own trend may explain it.": {},
        "Fewer than the shop's own trend explains.": {"trend_high": -0.01},
        "More than the shop's own trend explains.": {"trend_low": 0.01},
        "More, but the shop's own trend may explain it.": {"low": 0.01, "high": 0.2},
        "Too close to say that it differs.": {"high": 0.01},
        "Too close to say that it differs. Rework was falling already before.": {"high": 0.01, "chance_falling": 0.8},
    }
    for wanted, differs in of.items():
        said = rework_course._before_and_after(row | differs)
        counts = "timer (2026-03-02): 29 of 140 pieces came back before, 9 of 125 after."
        assert said == f"{counts} {wanted}"


def test_a_product_is_the_last_that_is_tried_and_what_is_not_clear_is_no_try(
    page: Run, demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = data.open_book(demo)
    rows = book.savings()
    every = rows.filter(pl.col("level").is_in(["flood coat", "coaster run", "boxelder", "yes"]))
    monkeypatch.setattr(book, "savings", lambda: every.with_columns(clear=pl.col("factor") != "damp"))
    first = [line.partition(":")[0] for line in rework_tries.tries(page_of(book))]
    practices, rest = first[:-3], first[-3:]
    assert rest == ["Boxelder", "Flood coat", "Coaster run"]
    assert len(practices) == every.filter(pl.col("level") == "yes", pl.col("factor") != "damp").height
    assert "Damp room" not in first


def test_what_rework_takes_stands_in_the_tiles(page: Run, demo: Path, con) -> None:
    events, pieces, hours, cents, months = con.execute(
        "select events, pieces, rework_hours, rework_cents, months from quality.rework_total"
    ).fetchall()[0]
    tiles = (
        html(page("rework", demo)).replace("\xa0", " ").partition('<dl class="kl-figures">')[2].partition("</dl>")[0]
    )
    assert f"<dd>{100 * events / pieces:.0f} %</dd><dd>{events} of {pieces} pieces; " in tiles
    assert f"<dd>{hours / months:.1f} h</dd><dd>{half_up(hours)} h in {months} months" in tiles
    assert f"<dd>${cents / 100 / months:,.0f}</dd>" in tiles


def test_a_price_says_what_it_pays_and_a_record_of_quotes_its_interval(page: Run, demo: Path, con) -> None:
    test = page("pricing", demo, **{"quote-product": "tray", "market": "true"})
    said = html(test).replace("\xa0", " ")
    assert "covers the cash, pays you nothing" in said
    share, low, high, pieces = con.execute(
        "select coverage_share, coverage_low_share, coverage_high_share, pieces from price.backtest "
        "where level = 'tray'"
    ).fetchall()[0]
    label = next(box.label for box in test.expander if box.label.startswith("How far to trust it"))
    assert f"{100 * share:.0f} % of {pieces} past cases of a tray fell within" in label
    assert f"({100 * low:.0f} to {100 * high:.0f} %, 19 times in 20)" in label
    ordered = con.execute("select ordered_pieces from price.sell_time where level = 'tray'").fetchall()[0][0]
    assert ordered > 0
    assert f"{ordered} pieces made to order waited for nobody and are not counted" in said


def test_the_pieces_of_a_coat_a_month_and_a_pair_open(page: Run, demo: Path, con) -> None:
    # a month holds on every page: it alone opens nothing
    test = page("rework", demo, by="coat", group="2", month="2026-05", months="true", pair="American elm × flood coat")
    assert not test.exception
    dearest = "order by rework_cents + scrap_cents desc, reworked desc, piece limit 1"
    for where in (
        "factor = 'coat' and level = '2'",
        "factor = 'shop' and month = '2026-05-01'",
        "factor = 'species × finish' and level = 'American elm × flood coat'",
    ):
        query = f"select piece from quality.piece where {where} {dearest}"
        assert f"piece={con.execute(query).fetchall()[0][0]}" in html(test)


def test_what_is_tied_up_adds_up(page: Run, demo: Path, con) -> None:
    total = con.execute("select sum(closing_cents) from money.stock_month where month = '2026-05-01'").fetchall()[0][0]
    test = page("stock", demo, month="2026-05")
    assert not test.exception
    assert heading(test).startswith(f"${total / 100:,.0f} at the end of May 2026")
    open_folds(test, "cover", "never-cut", "shelf-life", "shelf", "roll-forward")
    assert not test.exception
    first = con.execute(
        "select flow from material.reorder where buy order by months_cover nulls last, buy_cents desc, flow limit 1"
    ).fetchall()[0][0]
    assert f"Buy {first}" in html(test)


def test_a_described_piece_is_priced(page: Run, demo: Path) -> None:
    from pipeline.pages import actions

    asked = {"product": "tray", "species": "white ash", "finish": "flood coat", "length": "16 in", "width": "10 in"}
    found = actions.quote(demo, asked | {"channel": "market"})
    price = next(p for p in found["prices"] if p["channel"] == "market")
    kind = {f"quote-{name}": asked[name] for name in ("product", "species", "finish")}
    sizes = {name: asked[name] for name in ("length", "width")}
    test = page("pricing", demo, **kind, **sizes, **{"quote-channel": "market"})
    assert not test.exception
    said = heading(test)
    asked_price = f"${price['asked_cents'] / 100:,.2f}"
    assert said == f"Ask {asked_price} for a tray (market)."
    tiles = html(test).partition('<dl class="kl-figures kl-hero">')[2].partition("</dl>")[0]
    first, second = re.findall(r"<div>(.*?)</div>", tiles)[:2]
    # the price is the first of the tiles, and the largest; below it what is priced
    assert f">{asked_price}</a></dd><dd>a tray in white ash with flood coat, 16 in × 10 in; " in first
    assert f"<dd>${found['cost']['at']['50'] / 100:,.0f}</dd>" in second
    open_folds(test, "run", "rests-on", "relist", "if", "score", "quoted", "by-channel", "market")
    assert not test.exception
    assert found["leant_on"][0]["piece"] in html(test)


def test_one_price_for_all_channels_stands_beside_a_price_for_each(page: Run, demo: Path) -> None:
    found = actions.quote(demo, {"product": "tray", "channel": "commission"})
    kind = {"quote-product": "tray", "quote-channel": "commission"}
    test = page("pricing", demo, **kind, **{"by-channel": "true"})
    said = html(test).replace("\xa0", " ")
    same = said.partition('aria-label="one price"')[2].partition("</table>")[0]
    rows = dict(re.findall(r"<tr>.*?open=sold[^>]*>([^<]*)</a>(.*?)</tr>", same))
    for row in found["one_price"]:
        own = rows[row["channel"]]
        assert f"${row['same_price_cents'] / 100:,.2f}<" in own
        assert f"${row['same_proceeds_cents'] / 100:,.2f}<" in own
        assert own.endswith(f">{'yes' if row['worth_it'] else 'no'}</td>")
    lossy = [row["channel"] for row in found["one_price"] if not row["worth_it"]]
    assert lossy == ["gallery"]
    price = found["one_price"][0]["same_price_cents"] / 100
    assert f"<li>At ${price:,.2f} everywhere, gallery would leave less than it costs.</li>" in said
    (label,) = [box.label for box in test.expander if "one price for all" in box.label]
    assert label.replace("\\", "").endswith(f": at ${price:,.2f} not worth it: gallery")


def test_a_new_price_stands_beside_each_piece_of_the_re_price_list(page: Run, demo: Path, con) -> None:
    rows = "select piece, suggested_price_cents, sold_as_high_pieces, sold_pieces from price.relist"
    found = {piece: of for piece, *of in con.execute(rows).fetchall()}
    assert found
    said = (
        html(page("pricing", demo, relist="true")).partition('aria-label="re price list"')[2].partition("</table>")[0]
    )
    for piece, (cents, as_high, sold) in found.items():
        row = said.partition(f"piece={piece}")[2].partition("</tr>")[0]
        assert f">${cents / 100:,.2f}<" in row
        assert f">{as_high} of {sold}<" in row


def test_a_size_that_cannot_be_read_is_said_to_be_so(page: Run, demo: Path) -> None:
    test = page("pricing", demo, **{"quote-product": "tray"}, length="12 foo")
    assert not test.exception
    assert unescape(heading(test)) == "This can't be priced yet."
    assert "foo" in html(test)


def test_a_quote_is_saved_with_the_clients_page(page: Run, demo: Path, tmp_path: Path) -> None:
    shop = tmp_path / "shop"
    shutil.copytree(demo, shop)
    test = page("pricing", shop, **{"quote-product": "tray"})
    test.button(key="save").click().run()
    assert not test.exception
    assert "Saved as Q-" in html(test)
    saved = next((shop / "quotes").glob("Q-*.json"))
    assert json.loads(saved.read_text(encoding="utf-8"))["product"] == "tray"
    assert saved.with_suffix(".html").is_file()
    # what is described anew isn't what was saved
    test.selectbox(key="quote-species").select("white ash").run()
    assert "Saved as Q-" not in html(test)


@pytest.mark.parametrize("path", ["month", "pieces", "materials", "rework", "pricing", "stock"])
def test_figures_tell_their_meaning(page: Run, demo: Path, path: str) -> None:
    said = html(page(path, demo))
    names = re.findall(r' id="([^"]+)" role="tooltip"', said)
    assert len(names) >= 5
    assert len(set(names)) == len(names)  # a name that stands twice opens the wrong one


def test_any_piece_is_found_by_its_tag_whatever_month_is_chosen(page: Run, demo: Path, con) -> None:
    query = "select piece from cost.piece where finished < date '2026-01-01' order by piece limit 1"
    tag = con.execute(query).fetchall()[0][0]
    test = page("pieces", demo, month="2026-10")
    assert not heading(test).startswith(tag)
    test.selectbox(key="piece").set_value(tag).run()
    assert heading(test).startswith(f"{tag}, ")
    test.selectbox(key="month").set_value("2026-09").run()
    assert not test.exception
    assert not heading(test).startswith(tag), "another month chooses among its own pieces"


def test_where_nothing_fits_all_is_a_click_away(page: Run, demo: Path) -> None:
    test = page("pieces", demo, species="American beech", product="side table", finish="cast river")
    assert "side table, American beech, cast river" in html(test)
    assert '<a href="pieces" target="_self">Show all pieces</a>' in html(test)


def test_a_bare_size_is_told_with_the_unit_that_it_was_read_in(page: Run, demo: Path) -> None:
    said = html(page("pricing", demo, **{"quote-product": "tray"}, length="45", width="30", thickness="2"))
    assert "<dd>a tray, 45 in × 30 in × 2 in; " in said


def test_the_figures_of_a_quote_say_what_they_mean(page: Run, demo: Path) -> None:
    said = html(page("pricing", demo, **{"by-channel": "true", "rests-on": "true"}))
    for name, meaning in actions.meanings("quoted").items():
        assert unescape(said).count(meaning), name


def test_a_picture_of_very_many_pieces_holds_the_latest_and_the_one_asked_for() -> None:
    known = pl.DataFrame({"piece": [f"T-{n}" for n in range(20_000)]})
    dots = pieces.dotted(known, "T-19000")["piece"].to_list()
    assert dots == ["T-19000", *(f"T-{n}" for n in range(pieces.MOST_DOTS))]


def test_days_without_work_stand_among_the_bars() -> None:
    day = date(2026, 5, 4)
    every = log.every_day(pl.DataFrame({"day": [day], "hours": [7.5]}), day, 3)
    assert every.rows() == [(day, 7.5), (date(2026, 5, 3), 0.0), (date(2026, 5, 2), 0.0)]


def test_what_the_tool_wrote_is_no_file_of_the_maker(page: Run, demo: Path, con) -> None:
    own, aside = con.execute(
        "select count(distinct file) filter (where file like 'inbox/%'), sum(set_aside) from intake.file"
    ).fetchall()[0]
    figures = html(page("files", demo)).partition('<dl class="kl-figures">')[2].partition("</dl>")[0]
    assert f", in {own} files</dd>" in figures
    assert f'<a href="#rows-set-aside" target="_self">{aside}</a>' in figures
    assert 'id="rows-set-aside"' in html(page("files", demo))


def test_what_to_do_begins_with_what_cost_most_and_names_write_downs(
    page: Run, demo: Path, con: duckdb.DuckDBPyConnection
) -> None:
    last, down, piece = con.execute(
        "select month.month, month.write_down_cents, arg_max(down.piece, down.change_cents) from money.month "
        "join money.write_down as down on down.month = month.month where month.write_down_cents > 0 "
        "group by all order by month.month desc limit 1"
    ).fetchall()[0]
    said = unescape(html(page("month", demo, month=f"{last:%Y-%m}")))
    written = (
        f"${down / 100:,.0f} more was written down than came back, of unsold pieces that will bring less than they cost"
    )
    assert f"{written}: most on {piece}, $" in said


def test_a_run_says_how_many_were_sold_what_they_brought_and_how_many_are_still_there(
    page: Run, demo: Path, con: duckdb.DuckDBPyConnection
) -> None:
    tag, whole, sold, cents = con.execute(
        "select piece.piece, quantity, sum(units)::bigint, sum(revenue_cents)::bigint from money.sold "
        "join cost.piece as piece on piece.piece = sold.piece where quantity > 1 and units > 0 "
        "group by all having sum(units) < quantity and count(*) > 1 and bool_and(status = 'finished') order by all desc"
    ).fetchall()[0]
    said = unescape(html(page("pieces", demo, piece=tag, left="true")))
    brought = f"{sold} of {whole} sold for ${cents / 100:,.2f} in all, with shipping, without tax"
    assert f"{brought}; {whole - sold} still there." in said
    assert "File in the shop folder, where a record stands." in said
    assert "Place in the trace" not in said


def begun(shop: Path, **rows: str) -> Path:
    """A shop since September 2026, refreshed with these records."""
    settings = (shop / "shop.toml").read_text(encoding="utf-8")
    (shop / "shop.toml").write_text(re.sub(r"start = .*", "start = 2026-09-01", settings), encoding="utf-8")
    for name, text in rows.items():
        (shop / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
    refreshed(shop)
    return shop


@pytest.mark.parametrize("path", ["month", "stock"])
def test_a_shop_whose_records_just_begin_opens_on_their_month(page: Run, tiny_shop: Path, path: str) -> None:
    shop = begun(
        tiny_shop,
        pieces="piece,product,finished,status,opening_cost\nT-1,tray,2026-11-04,finished,40\n",
        sales="date,channel,piece,price\n2026-11-05,market,T-1,90\n",
    )
    test = page(path, shop)
    assert not test.exception
    chosen = next(box for box in test.selectbox if box.key == "month")
    assert chosen.value == "2026-11"
    assert "2026-10" in chosen.options


def test_a_price_is_of_as_many_as_are_usually_made_at_once(
    page: Run, demo: Path, con: duckdb.DuckDBPyConnection
) -> None:
    product, units = con.execute("select product, usual_units from cost.product where usual_units > 1").fetchall()[0]
    said = unescape(heading(page("pricing", demo, **{"quote-product": product})))
    told = re.match(rf"Ask \$([\d.]+) each, \$([\d.]+) in all, for a {product} of {units} \(", said)
    assert told is not None, said
    assert units * Decimal(told[1]) == Decimal(told[2])
    said = unescape(heading(page("pricing", demo, **{"quote-product": product}, quantity="1")))
    assert f" for one of a {product} (" in said
    test = page("pricing", demo, **{"quote-product": product})
    next(box for box in test.selectbox if box.key == "quote-product").select("tray").run()
    assert not test.exception
    assert " for a tray (" in heading(test)


def test_a_number_that_only_the_address_tells_stays(page: Run, demo: Path) -> None:
    """As where a link is followed at once: the address has the number then, and no callback was told of it."""
    test = page("pricing", demo, **{"quote-product": "tray"})
    test.query_params["quantity"] = "2"
    test.session_state["quantity"] = 2
    for _ in range(2):
        test.run()
        assert " for a tray in a run of 2 (" in heading(test)


@pytest.mark.parametrize(
    ("finished", "said"),
    [
        (1, "; no other tray is finished"),
        (4, "; the middle one of 4 finished cost $30.08"),
        (5, "; usual for a tray is $30.08 (median of 5, four of five from $20 to $40)"),
    ],
)
def test_few_pieces_have_a_middle_and_no_spread(finished: int, said: str) -> None:
    usual = {"pieces": finished, "usual_unit_cents": 3008, "low_unit_cents": 2000, "high_unit_cents": 4000}
    piece = {"product": "tray", "status": "finished"}
    assert pieces._beside(cast(Page, SimpleNamespace(money=Money("USD"))), piece, usual, "") == said


def test_few_sold_pieces_make_no_range() -> None:
    shop, band = (
        cast(Page, SimpleNamespace(money=Money("USD"))),
        {"low_cents": 100, "middle_cents": 200, "high_cents": 300},
    )
    few, more = (pricing._brought(shop, band | {"pieces": pieces}) for pieces in (4, 12))
    assert few == "The middle one of the 4 sold pieces most like it brought $2"
    assert more == "Of the 12 sold pieces most like it the middle half brought $1 to $3, the middle one $2"


def test_work_is_missed_only_where_such_a_finish_takes_it(
    page: Run, demo: Path, con: duckdb.DuckDBPyConnection
) -> None:
    """What is usual for the product may be for its other finishes alone."""
    tag, operation = con.execute(
        """
        with done as (
            select distinct product, finish, operation from cost.piece_line join cost.piece using (piece)
            where layer = 'labour' and cents > 0
        )
        select piece.piece, line.operation from cost.piece_line as line
        join cost.piece as piece on piece.piece = line.piece
        where line.layer = 'labour' and line.cents = 0 and piece.status = 'finished' and piece.finish is not null
            and not exists (
                select 1 from done where done.product = piece.product and done.finish = piece.finish
                    and done.operation = line.operation
            )
        order by all desc limit 1
        """
    ).fetchall()[0]
    advice = re.findall(r"not on record here: ([^.]*)\.", html(page("pieces", demo, piece=tag)))
    assert operation not in ", ".join(advice).split(", ")


def test_a_choice_that_changes_the_piece_says_so(page: Run, demo: Path, con: duckdb.DuckDBPyConnection) -> None:
    tag, other = con.execute(
        "select min(piece) filter (where product = 'tray'), any_value('coaster run') from cost.piece"
    ).fetchall()[0]
    test = page("pieces", demo, piece=tag)
    assert f"{tag} isn't of this kind" not in unescape(html(test))
    next(box for box in test.selectbox if box.key == "product").select(other).run()
    assert not test.exception
    assert f"{tag} isn't of this kind: " in unescape(html(test))


def test_a_piece_that_is_offered_later_did_not_wait_before(tiny_shop: Path) -> None:
    pieces = "piece,product,finished,listed,opening_cost\nT-1,tray,2026-09-10,2026-10-05,40\nT-2,tray,2026-09-10,,40\n"
    shop = begun(tiny_shop, pieces=pieces, hours="date,hours,person,operation\n2026-10-31,1,Ada,cleaning\n")
    held = data.open_book(shop).held
    waited = {day: dict(held(day).select("piece", "wait_days").iter_rows()) for day in (SEPTEMBER, OCTOBER)}
    assert waited == {SEPTEMBER: {"T-1": None, "T-2": 20}, OCTOBER: {"T-1": 26, "T-2": 51}}


def test_the_dearest_defect_is_so_whatever_was_decided(page: Run, tiny_shop: Path) -> None:
    shop = begun(
        tiny_shop,
        pieces="piece,product,started,finished,status,ended\nT-1,tray,2026-09-04,2026-09-20,,\n"
        "T-2,tray,2026-09-04,,scrapped,2026-09-20\nT-3,tray,2026-09-04,2026-09-20,,\n",
        hours="date,hours,person,operation,pieces,rework\n2026-09-05,2,Ada,sanding,T-1,yes\n"
        "2026-09-05,1,Ada,sanding,T-2,\n2026-09-05,2.5,Ada,sanding,T-3,yes\n",
        inspections="date,piece,defect,action\n2026-09-05,T-1,bubble,rework\n2026-09-20,T-2,bubble,scrap\n"
        "2026-09-05,T-3,tear-out,rework\n",
    )
    test = page("rework", shop, defects="true")
    tile = html(test).partition(">Dearest defect</")[2].partition("</div>")[0]
    assert ">bubble</a></dd><dd>€90 on 2 pieces<" in tile
    assert "Bubble costs most: €90 on 2 pieces" in html(test)


def test_a_piece_fits_the_channel_of_a_sale_without_its_tag(page: Run, tiny_shop: Path) -> None:
    shop = begun(
        tiny_shop,
        pieces="piece,product,finished,opening_cost\nT-1,tray,2026-09-04,40\nT-2,tray,2026-09-05,40\n",
        sales="date,channel,product,price\n2026-09-07,market,tray,90\n",
    )
    assert heading(page("pieces", shop, channel="market")).startswith("T-1, ")


def test_a_quote_leads_to_the_piece_that_it_became() -> None:
    quote = {"product": "tray", "pieces": 2, "first_piece": "T-1"}
    assert market._first_made(quote) == ("pieces?piece", "T-1")
    assert market._first_made(quote | {"pieces": 0, "first_piece": None}) == ("pieces?product", "tray")


def test_what_is_sold_is_no_unsold_piece_and_what_came_back_is_not_sold(page: Run, tiny_shop: Path) -> None:
    shop = begun(
        tiny_shop,
        pieces="piece,product,finished,list_price,opening_cost\nT-1,tray,2026-09-04,100,300\n"
        "T-2,tray,2026-09-04,100,300\nT-3,tray,2026-09-04,100,10\n",
        sales="date,channel,piece,quantity,price,returned_to\n2026-11-05,market,T-1,1,400,\n"
        "2026-11-06,market,T-3,1,100,\n2026-11-07,market,T-3,-1,100,stock\n",
        # of fewer than three months nobody knows what the usual kinds leave
        hours="date,hours,person,operation\n2026-11-30,1,Ada,cleaning\n2026-10-30,1,Ada,cleaning\n"
        "2026-09-30,1,Ada,cleaning\n",
    )
    labels = [box.label for box in page("month", shop, month="2026-11").expander]
    assert "1 unsold piece will bring less than it cost: €200 written down by the end of the month" in labels
    assert [label.partition("; ")[2] for label in labels if label.startswith("To break even")] == ["it sold €400"]


def test_the_week_names_at_most_five_things_each_with_its_money_and_its_place(
    page: Run, demo: Path, con: duckdb.DuckDBPyConnection
) -> None:
    test = page("week", demo)
    lines = re.findall(r"<li>(.*?)</li>", html(test), re.S)
    assert len(lines) == 5
    dearest = "select at_stake_cents from advice.worth_doing order by position limit 5"
    worth = [cents for (cents,) in con.execute(dearest).fetchall()]
    for line, cents in zip(lines, worth, strict=True):
        assert re.search(r'<a href="[a-z]+\?[^"]+', line) or 'href="?open=' in line
        assert f"${cents / 100:,.0f}" in line
    rest = page("week", demo, more="true")
    (told,) = con.execute("select count(*) from advice.worth_doing where position > 5").fetchall()[0]
    (table,) = re.findall(r'aria-label="more to do"><table class="kl">.*?<tbody>(.*?)</tbody>', html(rest), re.S)
    assert table.count("<tr>") == min(told, 20)
    assert len(unescape(re.sub("<[^>]*>", "", heading(test))).split()) <= 20
