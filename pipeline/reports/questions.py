"""What only the maker knows, as one numbered list: each question with its choices, most money first."""

from collections.abc import Iterator, Mapping
from typing import Any

import duckdb

from pipeline.reports.finding import rows_of
from pipeline.reports.words import amount, count

WAITS = {
    "file": "its rows are in no figure until then",
    "money": "its rows are in the figures, and not called logged until then",
    "": "its rows are in the figures all the same",
}
"""What a question holds back, in words."""

FILES_SHOWN = 3

NONE = "Nothing is to be asked: all that is read is understood."


def questions(con: duckdb.DuckDBPyConnection) -> list[dict[str, Any]]:
    """The questions of a published database, in order, with `choices` and `found_in`."""
    asked = rows_of(con, "from intake.question order by position")
    choices = rows_of(con, "select question, choice, label, does from intake.question_choice order by all")
    files = rows_of(con, "select distinct question, file, sheet from intake.question_file order by all")
    return [
        row
        | {
            "choices": [_without(choice) for choice in choices if choice["question"] == row["question"]],
            "found_in": [_without(file) for file in files if file["question"] == row["question"]],
        }
        for row in asked
    ]


def _without(row: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in row.items() if name != "question"}


def text(asked: list[dict[str, Any]], digits: int, shop: str = "DIR") -> Iterator[str]:
    """The questions as lines of text; `shop` is the folder as the maker named it."""
    if not asked:
        yield NONE
        return
    for row in asked:
        yield f"{row['position']}. {row['ask']}"
        money = amount(row["worth_cents"], digits) if row["worth_cents"] else ""
        yield f"   {hangs(row, money, _where(row))}"
        if row["wants"]:
            yield f"         write it as: {row['position']}='900 g'"
            continue
        for choice in row["choices"]:
            yield f"     {choice['choice']:>2}  {choice['label']}"
    yield f"To answer question 1 by its choice 2: kerfledger answer {shop} 1=2 (several at once: 1=2 3=1)"


def _where(row: dict[str, Any]) -> str:
    """The files that a question comes up in."""
    files = [" ".join(filter(None, (each["file"], each["sheet"]))) for each in row["found_in"]]
    more = f" and {len(files) - FILES_SHOWN} more" if len(files) > FILES_SHOWN else ""
    return f" in {', '.join(files[:FILES_SHOWN])}{more}" if any(files) else ""


def hangs(row: Mapping[str, Any], money: str, where: str) -> str:
    """What hangs on a question: its rows, its `money` as it is shown ("" = none) and where it comes up, and what waits
    for the answer."""
    both = f" and {money}" if money else ""
    hang = "hangs" if row["rows"] == 1 and not money else "hang"
    return f"{count(row['rows'], 'row')}{both} {hang} on it{where}; {WAITS[row['holds']]}."
