"""Choices that questions of several kinds offer: a record, a column as a field, that it is not needed."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from pipeline.mapping import HELPERS
from pipeline.proposing import helper_columns
from pipeline.proposing.columns import Column, ColumnGuess
from pipeline.proposing.question import Choice, Table, words
from pipeline.records import RECORDS

PASSED_OVER = "none of these: pass it over"
NOT_NEEDED = "nothing that is needed"
CERTAIN, OTHERS = 0.98, 3
"""A table less surely of its record is offered so many others."""


def shown(column: Column | ColumnGuess) -> str:
    return column.header or (column.column if isinstance(column, ColumnGuess) else column.name)


def record_choices(table: Table, records: Iterable[str]) -> list[Choice]:
    """The records, likeliest first, and none: first of all where nothing in the table is known."""
    named = [
        Choice(f"{name}: {RECORDS[name].meaning.rstrip('.').lower()}", f"reads it as {name}", mapping={"record": name})
        for name in records
    ]
    none = Choice(PASSED_OVER, "passes the table over in every refresh", mapping={"record": ""})
    return [*named, none] if table.scores[table.record.name] else [none, *named]


def other_records(table: Table) -> list[Choice]:
    """The records that the rows of a table may be instead, where nobody has said which; and none."""
    if not table.rivals or table.scores[table.record.name] >= CERTAIN:
        return []
    others = [name for name in table.rivals if name != table.record.name][:OTHERS]
    named = record_choices(table, others)
    return [
        replace(choice, label=choice.label if choice.label == PASSED_OVER else f"its rows are {choice.label}")
        for choice in sorted(named, key=lambda choice: choice.label == PASSED_OVER)
    ]


def ways(record: str, name: str, header: str) -> list[tuple[str, dict[str, Any]]]:
    """How a column is told to be a field, in words and in a mapping: of a price whose header says that its tax is in
    it, with the tax or without."""
    told = {"record": record, "columns": {name: header}}
    if not may_hold_tax(record, name, header):
        return [("", told)]
    inside = told | {"tax_included": True}
    if record != "sales":
        inside = {"record": record, "helpers": {"gross": header}}
    return [(", the tax in it", inside), (", without tax", told | {"tax_included": False})]


def may_hold_tax(record: str, name: str, header: str) -> bool:
    told = helper_columns.says_gross(header) or helper_columns.is_money_mark(header)
    return name in HELPERS["gross"].get(record, ()) and told


def as_column(table: Table, name: str, header: str) -> list[Choice]:
    what = table.record.field(name).meaning.rstrip(".").lower()
    return [
        Choice(f"the {words(name)}{way}: {what}", f"takes “{header}” as the {words(name)}{way}", mapping=told)
        for way, told in ways(table.record.name, name, header)
    ]


def not_needed(table: Table, header: str) -> Choice:
    told = {"record": table.record.name, "left_out": [header]}
    return Choice(NOT_NEEDED, f"leaves “{header}” out", mapping=told)
