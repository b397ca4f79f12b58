"""Every page, run headless: on the demo, and on a shop without a single record."""

import re
from pathlib import Path

import duckdb
import pytest

from dashboard.app import VIEWS
from pipeline.database import open_newest
from tests.dashboard.conftest import Run, heading, html

PATHS = [view.path for view in VIEWS]


@pytest.fixture(scope="module")
def con(demo: Path) -> duckdb.DuckDBPyConnection:
    return open_newest(demo)


@pytest.mark.parametrize("path", PATHS)
def test_a_page_answers_its_question_with_a_figure(page: Run, demo: Path, path: str) -> None:
    test = page(path, demo)
    assert not test.exception
    assert re.search(r"\d", heading(test))
    assert test.get("vega_lite_chart") or test.get("arrow_vega_lite_chart")


@pytest.mark.parametrize("path", PATHS)
def test_a_page_without_records_says_what_would_fill_it(page: Run, bare: Path, path: str) -> None:
    test = page(path, bare)
    assert not test.exception
    assert heading(test)
    assert "kl-do" in html(test) or path == "month"


@pytest.mark.parametrize("path", ["materials", "rework", "files", "month"])
def test_a_page_says_what_to_mind(page: Run, demo: Path, path: str) -> None:
    assert 'class="kl-mind"' in html(page(path, demo))


def test_the_month_is_the_one_in_the_address(page: Run, demo: Path, con: duckdb.DuckDBPyConnection) -> None:
    result, pay = con.execute(
        "select result_cents, pay_per_hour_cents from money.month where month = '2026-05-01'"
    ).fetchone() or (0, 0)
    said = heading(page("month", demo, month="2026-05"))
    assert said.startswith("May 2026 " + ("made" if result >= 0 else "lost"))
    assert f"{abs(result) / 100:,.0f}" in said
    assert f"{abs(pay) / 100:,.2f}" in said


def test_the_steps_of_a_month_come_to_its_result(con: duckdb.DuckDBPyConnection) -> None:
    from dashboard.views.month import STEPS

    columns = {step: f"{sign} * {column}" for step, (column, sign, _, _) in STEPS.items()}
    total = " + ".join(term for step, term in columns.items() if step != "Result")
    wrong = con.execute(f"select month from money.month where {total} <> {columns['Result']}").fetchall()
    assert wrong == []


def test_each_step_of_a_month_is_the_sum_of_the_lines_behind_it(con: duckdb.DuckDBPyConnection) -> None:
    from dashboard.views.month import STEPS

    query = """
        select coalesce(sum(cents), 0) from money.line
        where month = '2026-05-01' and line = $line and (len($layers) = 0 or list_contains($layers, layer))
    """
    for step, (column, sign, line, layers) in STEPS.items():
        if line:
            figure = con.execute(f"select {sign} * {column} from money.month where month = '2026-05-01'").fetchall()[0][
                0
            ]
            behind = con.execute(query, {"line": line, "layers": list(layers)}).fetchall()[0][0]
            assert behind == figure, step


def test_the_bridge_leads_from_the_other_month_to_this_one(page: Run, demo: Path) -> None:
    for against in ("the month before", "the same month last year"):
        test = page("month", demo, month="2026-05", against=against)
        assert not test.exception
        assert "May 2026 made" in html(test)
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
    test = page("pieces", demo, piece=tag)
    assert tag in heading(test)
    box = next(box for box in test.expander if box.label.startswith("Labour"))
    assert f"{cents / 100:,.2f}" in box.label
    test.session_state[f"layer-{tag}-labour"] = True
    test.run()
    assert not test.exception
    assert f"{row[0]}, row {row[1]}" in html(test)
    # who was paid, at which rate
    assert "paid by shop.toml, section people" in html(test)


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


def test_a_heading_tells_the_meaning_that_the_dictionary_holds(page: Run, demo: Path) -> None:
    assert '<abbr title="Cost of one unit of the run.">Each</abbr>' in html(page("pieces", demo))
