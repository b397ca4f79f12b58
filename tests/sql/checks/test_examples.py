"""Every check has rows that make it fire, and near ones that don't."""

from collections.abc import Callable

import pytest

from pipeline.database.plan import read_plan
from pipeline.reports.check import TOLD_IN_DETAIL
from tests.sql.checks import of_days, of_money, of_records, of_stages, of_stock, of_the_books
from tests.sql.checks.example import Examples, Rows

AREAS = (of_days, of_records, of_the_books, of_stock, of_stages, of_money)
EXAMPLES: Examples = {name: examples for area in AREAS for name, examples in area.EXAMPLES.items()}

EACH_ROW = {"estimate_failed", "file_asks", "row_set_aside", "tag_unlinked", "word_unknown"}
"""Checks that tell of each row of one table: only without any are they silent."""


def lacking(checks: set[str], examples: Examples) -> list[str]:
    """What stands between the checks and their examples, in words."""
    said = [f"{name}: there is no such check" for name in examples.keys() - checks]
    for name in checks:
        given = examples.get(name, [])
        if not any(example.found for example in given):
            said.append(f"{name}: no rows make it fire")
        if not any(not example.found for example in given):
            said.append(f"{name}: no rows leave it silent")
        if name not in EACH_ROW and any(not len(rows) for example in given for rows in example.given.values()):
            said.append(f"{name}: an example has a table without rows")
    return sorted(said)


def test_every_check_has_rows_that_make_it_fire_and_rows_that_dont() -> None:
    checks = {check.table.partition(".")[2] for check in read_plan().checks}
    assert len(checks) > 40
    found = lacking(checks, EXAMPLES)
    assert not found, "tests/sql/checks/of_<area>.py: " + "; ".join(found)
    assert sum(len(area.EXAMPLES) for area in AREAS) == len(EXAMPLES), "a check stands in two areas"


def test_what_is_told_in_detail_elsewhere_is_a_check() -> None:
    assert {check.table.partition(".")[2] for check in read_plan().checks} >= TOLD_IN_DETAIL


def test_a_check_without_examples_is_told() -> None:
    fires, silent = (
        [example for example in EXAMPLES["oversold"] if bool(example.found) is found] for found in (True, False)
    )
    assert lacking({"oversold"}, {"oversold": fires + silent}) == []
    assert lacking({"oversold"}, {"oversold": silent}) == ["oversold: no rows make it fire"]
    assert lacking({"oversold"}, {"oversold": fires}) == ["oversold: no rows leave it silent"]
    assert lacking({"oversold"}, {}) == ["oversold: no rows leave it silent", "oversold: no rows make it fire"]
    assert lacking(set(), {"oversold": fires}) == ["oversold: there is no such check"]


@pytest.mark.parametrize("name", sorted(EXAMPLES))
def test_a_check_finds_what_it_says_and_no_more(name: str, model: Callable[..., Rows]) -> None:
    for example in EXAMPLES[name]:
        found = sorted(model(f"checks.{name}", **example.given), key=repr)
        assert found == sorted(example.found, key=repr), example.tells
