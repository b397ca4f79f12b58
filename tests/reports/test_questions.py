"""What hangs on a question, in the words that the command and the page share."""

import pytest

from pipeline.pages.actions import what_hangs
from pipeline.reports.questions import WAITS, hangs


@pytest.mark.parametrize(
    ("rows", "money", "where", "says"),
    [
        (1, "", "", "1 row hangs on it"),
        (1, "$2.00", "", "1 row and $2.00 hang on it"),
        (3, "", ", in 2 files", "3 rows hang on it, in 2 files"),
        (1200, "$2.00", " in inbox/a.csv", "1,200 rows and $2.00 hang on it in inbox/a.csv"),
    ],
)
@pytest.mark.parametrize("holds", WAITS)
def test_what_hangs_on_a_question(rows: int, money: str, where: str, says: str, holds: str) -> None:
    row = {"rows": rows, "holds": holds}
    assert hangs(row, money, where) == f"{says}; {WAITS[holds]}."
    assert what_hangs(row, money, where) == hangs(row, money, where)
