"""The rules in force stand beside the figures that they shape, as they were on the figure's day."""

import re
from html import unescape
from pathlib import Path

import duckdb
import pytest

from pipeline.database import open_newest
from tests.dashboard.conftest import Run, html


@pytest.fixture(scope="module")
def con(demo: Path) -> duckdb.DuckDBPyConnection:
    return open_newest(demo)


def rules(said: str) -> str:
    """The lines of rules on a page, as text."""
    return unescape(re.sub("<[^>]+>", "", " ".join(re.findall(r'<p class="kl-rules">(.*?)</p>', said, re.S))))


RATES = ("an hour", "50 % down", "gallery 40 % fee", "online 8 % + $0.25 fee")


FOLDS = {"rules": "true", "worst-pours": "true"}
MATERIALS = {"month": "2026-05"} | FOLDS


@pytest.mark.parametrize(
    ("path", "chosen", "says"),
    [
        (
            "month",
            {"month": "2026-05", "rules": "true"},
            ("first in, first out", "sales tax", "scrap up to 5 %", "a bench hour"),
        ),
        ("pieces", {"rules": "true"}, ("first in, first out", "an hour", "a bench hour", "a machine hour")),
        ("materials", MATERIALS, ("first in, first out", "below 18 °C", "days late")),
        ("rework", {"rates": "true"}, ("5 % off its ratio", "below 18 °C", "good pieces of the shop")),
        ("pricing", {"rests-on": "true", "by-channel": "true"}, RATES),
        ("stock", {}, ("first in, first out", "7 days late")),
    ],
)  # fmt: skip
def test_each_page_says_the_rules_in_force(page: Run, demo: Path, path: str, chosen: dict, says: tuple) -> None:
    test = page(path, demo, **chosen)
    assert not test.exception
    said = html(test)
    for text in says:
        assert text in rules(said)
    # each leads to its entry in the settings
    assert re.search(r'class="kl-rules">[^<]*<a href="\?[^"]*open=row%3A\d+"', said)


def test_a_rate_is_the_one_of_the_day(page: Run, demo: Path) -> None:
    # in the demo an hour of Tobin's went from 21.50 to 24.00 on 2025-04-01; the room must be warmer since 2025-07-01
    before, after = (
        rules(html(page("month", demo, month=month, step="Work in it"))) for month in ("2025-03", "2025-04")
    )
    assert "Tobin $21.50 an hour" in before
    assert "Tobin $24.00 an hour (since 2025-04-01)" in after
    assert "below 16 °C" in rules(html(page("materials", demo, month="2025-06", **FOLDS)))
    later = rules(html(page("materials", demo, month="2025-07", **FOLDS)))
    assert re.search(r"below 18 °C[^·]*\(since 2025-07-01\)", later)
    assert "part of what things cost ·" in later  # which that entry didn't change


def test_the_rate_of_a_pool_is_what_its_pieces_bore(page: Run, demo: Path, con: duckdb.DuckDBPyConnection) -> None:
    """What the logged hours of a month brought of the rent into pieces is the rate times those hours."""
    said = rules(html(page("month", demo, month="2026-05", rules="true")))
    found = re.search(r"rent and power by the twelve months before: .*rent \$([0-9.]+) a bench hour", said)
    assert found
    cents, seconds, records = con.execute(
        """
        with borne as (
            select row_id, sum(cents)::bigint as cents from cost.trace
            where from_place = 'pool' and to_place = 'piece' and item = 'rent'
                and date_trunc('month', on_date) = '2026-05-01'
            group by row_id
        ),
        -- hours that name no piece go into pieces as far as these lack them
        worked as (select row_id, sum(seconds) as seconds from work.hours_piece group by row_id)
        select sum(cents)::bigint, sum(seconds)::bigint, count(*) from borne join worked using (row_id)
        """
    ).fetchall()[0]
    # said to the cent, and each record's share is cut to the cent
    assert float(found[1]) == pytest.approx(36 * cents / seconds, abs=0.005 + 36 * records / seconds)
