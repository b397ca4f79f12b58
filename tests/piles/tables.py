"""A table of a pile before it is written: its columns with what stands in them and what is true of each row."""

from dataclasses import dataclass, field
from decimal import Decimal

from tests.piles.scenario import Scenario
from tests.piles.words import Writer, cells

Truth = dict[str, object]
"""Stored column of a record → its value."""

BASES = {"kg": ("mg", 10**6), "g": ("mg", 10**3), "l": ("ul", 10**6), "ml": ("ul", 10**3), "each": ("each", 10**3)}


@dataclass(frozen=True)
class Money:
    """An amount in minor units, to be written in the way of its file."""

    cents: int


@dataclass
class Column:
    """A column: its header, the field it is ("" = none), its cells, and what each says of its row."""

    header: str
    field: str
    cells: list[object]
    truth: list[Truth]


@dataclass
class Table:
    """A table of one record ("" = none of ours); `habits` are ways of writing that make it harder."""

    record: str
    writer: Writer
    columns: list[Column] = field(default_factory=list)
    habits: set[str] = field(default_factory=set)
    strays: list[tuple[int, list[object]]] = field(default_factory=list)
    """Rows that are no record, each before the row of this number."""

    @property
    def height(self) -> int:
        return len(self.columns[0].cells)

    def truth(self, row: int) -> Truth:
        return {name: value for column in self.columns for name, value in column.truth[row].items()}

    def add(
        self, field: str, found: list[object], truth: list[Truth], concept: str = "", short: str = "", more: str = ""
    ) -> bool:
        """Add the column of a field where this writer has a word for it that no other column has."""
        concept = concept or f"{self.record}.{field}"
        for _ in range(4):
            header = self.writer.header(concept, short)
            if header and header + more not in {column.header for column in self.columns}:
                self.columns.append(Column(header + more, field, found, truth))
                return True
        return False

    def must(self, *args: object, **named: str) -> None:
        """Add the column of a field without which its rows are none; raises `NoWordError` where there is no word."""
        if not self.add(*args, **named):  # type: ignore[arg-type]
            raise NoWordError

    def nowhere(self, concept: str, found: list[object]) -> bool:
        return self.add("", found, [{} for _ in found], concept)


class NoWordError(Exception):
    """This writer has no word for a needed column: another one writes the table."""


def named(name: str, values: list[object]) -> list[Truth]:
    """What each cell says, where it is one stored column; None says nothing."""
    return [{} if value is None else {name: value} for value in values]


def dates(table: Table, field: str, days: list[object], must: bool = True, stored: str = "on_date") -> None:
    (table.must if must else table.add)(field, days, named(stored, days))


def money(table: Table, field: str, cents: list[object], must: bool = False, concept: str = "") -> bool:
    shown: list[object] = [None if c is None else Money(int(c)) for c in cents]  # type: ignore[call-overload]
    if must:
        table.must(field, shown, named(f"{field}_cents", cents), concept=concept)
        return True
    return table.add(field, shown, named(f"{field}_cents", cents), concept)


def words(
    table: Table, field: str, vocabulary: str, meanings: list[object], must: bool = False, short: str = ""
) -> bool:
    """A column of words of a vocabulary; one writer writes one thing in one way."""
    told = {meaning: table.writer.word(vocabulary, str(meaning)) for meaning in set(meanings) if meaning}
    own = vocabulary in ("item", "product", "channel")  # a shop's own words stay as they are written
    truth = named(field, [None if not m else told[m] if own else m for m in meanings])
    args = (field, [told.get(m) for m in meanings], truth)
    if must:
        table.must(*args, short=short)
        return True
    return table.add(*args, short=short)


def tags(table: Table, field: str, found: list[object], must: bool = False, several: bool = False) -> bool:
    """A column of tags, in the case that this writer writes them."""
    lower = "tags in lower case" in table.habits
    shown: list[object] = [str(tag).lower() if tag and lower else tag for tag in found]
    truth = named(field, [None if tag is None else [tag] if several else tag for tag in found])
    if must:
        table.must(field, shown, truth)
        return True
    return table.add(field, shown, truth)


def quantities(table: Table, field: str, amounts: list[tuple[Decimal, str]], short: str = "") -> None:
    """Amounts with their units: in the cell, or in a column beside."""
    truth: list[Truth] = []
    for number, unit in amounts:
        base, times = BASES[unit]
        truth.append({field: int(number * times), f"{field}_unit": base})
    units: list[object] = [table.writer.word("unit", unit) for _, unit in amounts]
    once = {unit: table.writer.word("unit", unit) for unit in cells()["unit"]}
    units = [once[unit] for _, unit in amounts]
    beside = table.writer.rng.random() < 0.5
    if beside:
        table.must(field, [number for number, _ in amounts], truth, short=short)
        if table.add("unit", units, [{} for _ in units], short="unit"):
            return
        table.columns.pop()
    table.must(field, [(number, unit) for (number, _), unit in zip(amounts, units, strict=True)], truth, short=short)


def note(table: Table, scenario: Scenario) -> None:
    """A note on some rows."""
    rng = table.writer.rng
    if rng.random() < 0.5:
        found: list[object] = [table.writer.word("note") if rng.random() < 0.4 else None for _ in range(table.height)]
        table.add("note", found, named("note", found), short="note")


def extras(table: Table, scenario: Scenario) -> None:
    """Columns that belong nowhere: about one in five of all."""
    rng, height = table.writer.rng, table.height
    kinds = list(_EXTRA)
    if table.record in ("sales", "orders"):
        kinds += ["private.buyer"] * 2
    wanted = len(table.columns) * 0.25
    count = int(wanted) + (rng.random() < wanted % 1)
    for concept in rng.sample(list(dict.fromkeys(kinds)), min(count + 2, len(set(kinds)))):
        if sum(not column.field for column in table.columns) >= count:
            return
        if concept == "private.buyer":
            table.nowhere(concept, [scenario.buyer() for _ in range(height)])
        else:
            table.nowhere(concept, _EXTRA[concept](table.writer, height))
            rng.random()


def _of_words(vocabulary: str):  # type: ignore[no-untyped-def]
    return lambda writer, height: [writer.word(vocabulary) for _ in range(height)]


_EXTRA = {
    "nowhere.payment_method": _of_words("payment_method"),
    "nowhere.weather": _of_words("weather"),
    "nowhere.weekday": _of_words("weekday"),
    "nowhere.line": lambda writer, height: list(range(1, height + 1)),
    "nowhere.shelf": lambda writer, height: [
        f"{writer.rng.choice('ABCD')}{writer.rng.randint(1, 9)}" for _ in range(height)
    ],
    "nowhere.stars": lambda writer, height: [writer.rng.randint(1, 5) for _ in range(height)],
    "nowhere.page": lambda writer, height: [1 + at // 8 for at in range(height)],
    "nowhere.weight": lambda writer, height: [Decimal(writer.rng.randint(2, 90)) / 10 for _ in range(height)],
    "nowhere.checked": lambda writer, height: [writer.rng.choice(("x", None)) for _ in range(height)],
}
