"""A question to the maker about a table, its choices, what an answer writes, and what questions are made from."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from pipeline.mapping import Mapping as FileMapping
from pipeline.proposing.columns import Column, ColumnGuess
from pipeline.records import Field, Record
from pipeline.reference import header_key
from pipeline.shop import Shop

Pair = tuple[float, Column, str, str]
"""How well a column is a field, the column, the field ("" = none), and why."""

Fits = Callable[[Column, Field], float]
"""How much of what stands in a column a field's own reader can read, 0 to 1."""

SURE, FAIR = 0.9, 0.9
"""A needed column, another one, that is less likely what it was taken for is asked about."""
FILE, MONEY, LITTLE = "file", "money", ""
"""What waits for an answer: the file; that its rows count as logged; nothing but its own column."""

TOGETHER = "together"
"""A question about several columns at once: its first choice says yes to all of them."""


@dataclass(frozen=True)
class Choice:
    """One answer: how it is called, what it writes in words, and what it writes: entries of `shop.toml` as (section,
    name, value), and settings of the table's mapping."""

    label: str
    does: str
    shop: tuple[tuple[str, str, str], ...] = ()
    mapping: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Question:
    """Something that only the maker knows; `such` are texts of the column that it is about, or else the headers of the
    table. Questions of one `kind` `about` the same are one, whatever file asks. One that is not `asked` is listed with
    the columns that are not used, one about a whole table with the files passed over: no money, quantity or tag hangs
    on it."""

    kind: str
    about: str
    ask: str
    choices: tuple[Choice, ...] = ()
    holds: str = LITTLE
    record: str = ""
    field: str = ""
    such: tuple[str, ...] = ()
    asked: bool = True

    @property
    def fields(self) -> frozenset[str]:
        """The fields whose columns it is about: they are left out as long as it is open."""
        if self.kind == TOGETHER:
            return frozenset(self.choices[0].mapping["columns"])
        return frozenset({self.field} if self.kind in ("column", "which") else ())


@dataclass(frozen=True)
class Table:
    """What the questions about a table are made from: its columns, what was guessed of them, and how well each column
    is each field; `told` is what a mapping says already."""

    record: Record
    scores: Mapping[str, float]
    rivals: Sequence[str]
    found: Sequence[Column]
    guesses: Sequence[ColumnGuess]
    pairs: Sequence[Pair]
    fits: Fits
    shop: Shop
    told: FileMapping
    derived: frozenset[str] = frozenset()

    @property
    def held(self) -> dict[str, ColumnGuess]:
        return {guess.field: guess for guess in self.guesses if guess.field}

    @property
    def filled(self) -> set[str]:
        return {*self.held, *self.told.filled, *self.derived}

    @property
    def headings(self) -> str:
        return "|".join(header_key(column.header or column.name) for column in self.found)

    def sure(self, name: str) -> bool:
        guess = self.held.get(name)
        return name in self.told.columns or bool(guess and guess.confidence >= self.need(name))

    def need(self, name: str) -> float:
        return SURE if self.record.field(name).required else FAIR


def words(name: str) -> str:
    return name.replace("_", " ")


def constant(record: str, name: str, text: str) -> Choice:
    """The choice that all rows of a table say the same."""
    told = {"record": record, "constants": {name: text}}
    return Choice(f"in all rows: {text}", f"writes {words(name)} = {text} for all rows", mapping=told)
