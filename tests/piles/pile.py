"""A random pile of up to 15 files with its truth: `make(folder, seed, half)`."""

from dataclasses import dataclass
from pathlib import Path
from random import Random

from tests.piles import files
from tests.piles.foreign import foreign
from tests.piles.records import KINDS, table_of
from tests.piles.scenario import Scenario, scenario
from tests.piles.tables import Money, NoWordError, Table, Truth, extras
from tests.piles.words import LANGUAGES, STANDARDS, Writer

LAYOUTS = ("section rows", "subtotals", "a total at the end", "a title above")
VAGUE = ("list", "table", "export", "new", "data", "copy")


@dataclass(frozen=True)
class TrueTable:
    """What one table of a file holds: its record ("" = none), the field of each header, and what each row says."""

    file: str
    sheet: str
    record: str
    source: str
    language: str
    fields: dict[str, str]
    rows: dict[int, Truth]
    habits: frozenset[str]


def make(folder: Path, seed: int, half: str, only: str = "") -> list[TrueTable]:
    """A shop folder with a pile in its inbox, and what is true of it; all in the words of one source with `only`."""
    rng = Random(f"{half} {seed}")
    shop = scenario(rng)
    own = rng.choice(LANGUAGES)
    inbox = folder / "inbox"
    inbox.mkdir(parents=True)
    people = "".join(f'\n[[people]]\nname = "{name}"\nrate = 30\n' for name in shop.people)
    (folder / "shop.toml").write_text(
        f'name = "A shop"\ncurrency = "{shop.currency}"\nstart = {shop.year}-01-01\n{people}', encoding="utf-8"
    )
    found: list[TrueTable] = []
    for number in range(rng.randint(9, 15)):
        language = own if rng.random() < 0.75 else rng.choice(LANGUAGES)
        language = only if only in LANGUAGES else language
        if rng.random() < 0.1:
            writer = Writer(rng, half, language, language)
            name, table = foreign(shop, writer)
        else:
            record = rng.choices(list(KINDS), [weight for weight, _ in KINDS.values()])[0]
            source = rng.choice(STANDARDS) if rng.random() < 0.25 else language
            source = only or source
            table = _table(shop, record, Writer(rng, half, source, language))
            name = table.writer.header(f"file.{record}") or record
            name = rng.choice(VAGUE) if rng.random() < 0.3 else name
        found.append(_write(inbox, f"{name} {number + 1}", table, shop))
    return found


def _table(shop: Scenario, record: str, writer: Writer) -> Table:
    """A table in this writer's words, else in those of its language, else in English."""
    for source, language in ((writer.source, writer.language), (writer.language,) * 2, ("en", "en")):
        for _ in range(3):
            one = Writer(writer.rng, writer.half, source, language)
            try:
                table = table_of(record, shop, one)
            except NoWordError:
                continue
            extras(table, shop)
            if one.rng.random() < 0.3:
                one.rng.shuffle(table.columns)
            _layout(table, one.rng)
            return table
    raise AssertionError(f"no words for {record}")


def _layout(table: Table, rng: Random) -> None:
    """Rows that are none of the table's, as people put them between."""
    if rng.random() < 0.75 or not table.record:
        return
    habit = rng.choice(LAYOUTS)
    table.habits.add(habit)
    half = table.height // 2
    if habit == "section rows":
        table.strays += [(0, [str(rng.choice((2024, 2025)))]), (half, ["Q3"])]
    elif habit in ("subtotals", "a total at the end"):
        spots = [half, table.height] if habit == "subtotals" else [table.height]
        table.strays += [(spot, _sum(table, spots[at - 1] if at else 0, spot)) for at, spot in enumerate(spots)]


def _sum(table: Table, start: int, end: int) -> list[object]:
    cells: list[object] = []
    for column in table.columns:
        values = column.cells[start:end]
        amounts = [value.cents for value in values if isinstance(value, Money)]
        cells.append(Money(sum(amounts)) if amounts else None)
    if isinstance(cells[0], Money):
        cells[0] = None
    cells[0] = cells[0] or table.writer.word("total")
    return cells


def _write(inbox: Path, name: str, table: Table, shop: Scenario) -> TrueTable:
    rng, language = table.writer.rng, table.writer.language
    suffix = rng.choice(files.SUFFIXES)
    if suffix == "json" and (table.strays or len({c.header for c in table.columns}) < len(table.columns)):
        suffix = "csv"
    title = [table.writer.word("title")] if "a title above" in table.habits and suffix != "json" else []
    rows, at = files.rows_of(table, title)
    path = inbox / f"{name}.{suffix}"
    hand = files.Hand(rng, language, shop.currency)
    sheet = name.rpartition(" ")[0].title() if suffix in ("xlsx", "ods") else ""
    if suffix == "csv":
        files.write_csv(path, rows, hand, rng.choice(",;\t") if hand.mark == "." else ";")
    elif suffix == "json":
        files.write_json(path, table)
        at = list(range(1, table.height + 1))
    else:
        (files.write_xlsx if suffix == "xlsx" else files.write_ods)(path, [(sheet, rows)])
    return TrueTable(
        path.name,
        sheet,
        table.record,
        table.writer.source,
        language,
        {column.header: column.field for column in table.columns},
        {place: table.truth(row) for row, place in enumerate(at)},
        frozenset(table.habits),
    )
