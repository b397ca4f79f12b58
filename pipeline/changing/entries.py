"""What `shop.toml` says, entry by entry: of which thing, from which day on, and where in the file that stands."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from pipeline.records import CATEGORIES
from pipeline.settings import SETTINGS, Setting, SettingsTable
from pipeline.shop import Shop, checked
from pipeline.shop.settings_text import Place, values_in

NAMED_BY = {"tax_rate": ("regime", "category"), "goal": ("year",), "shop": (), "rule": ()}
"""The settings that tell one thing of a table from another; `name` where nothing is said here."""


@dataclass(frozen=True)
class Entry:
    """What is said of a thing from a day on (None: from the start): `always` holds on every day, `dated` from then on.

    `at` is the place of the thing's entry, `dated_at` that of its dated entry, where it has one.
    """

    table: str
    name: str
    since: date | None
    at: Place
    always: dict[str, Any] = field(default_factory=dict)
    dated: dict[str, Any] = field(default_factory=dict)
    dated_at: Place | None = None

    @property
    def place(self) -> Place:
        """Where its dated values stand."""
        return self.at if self.dated_at is None else self.dated_at


@dataclass(frozen=True)
class Stand:
    """What a `shop.toml` says: its bytes, the shop that it makes, and its entries by table."""

    content: bytes
    shop: Shop = field(repr=False)
    entries: dict[str, list[Entry]] = field(repr=False)
    words: dict[str, dict[str, str]] = field(repr=False)
    """Vocabulary → word → what it means."""

    @property
    def start(self) -> date:
        return date.fromisoformat(str(self.shop["start"]))

    def of(self, table: str, name: str) -> list[Entry]:
        """The entries of one thing, by the day from which they hold."""
        return [entry for entry in self.entries[table] if entry.name == name]

    def names(self, table: str) -> list[str]:
        return list(dict.fromkeys(entry.name for entry in self.entries[table]))


def stand(shop: Shop, content: bytes) -> Stand:
    """What the bytes say. Raises `UserError` where they can't be used."""
    shop = checked(shop.folder, content)
    data = values_in(content)
    found = {table.name: sorted(_entries(table, data), key=_order) for table in SETTINGS.values()}
    return Stand(content, shop, {name: _together(of) for name, of in found.items()}, shop.words)


def is_dated(table: SettingsTable) -> bool:
    """Whether its figures hold from a day on; what is not dated holds for the whole history."""
    return bool(table.dated) or table.name == "rule"


def always_of(table: SettingsTable) -> tuple[Setting, ...]:
    """The settings of a table that hold on every day."""
    if table.name == "rule":
        return ()
    # the categories are a list of the records'
    return tuple(replace(s, choices=CATEGORIES) if s.name == "category" and not s.choices and s.kind == "choice" else s
                 for s in table.settings)  # fmt: skip


def dated_of(table: SettingsTable) -> tuple[Setting, ...]:
    """The settings of a table that hold from a day on."""
    return table.settings if table.name == "rule" else table.dated_settings


def _together(entries: list[Entry]) -> list[Entry]:
    """As a person looks for them: each thing's entries together, by day."""
    return [entry for name in dict.fromkeys(e.name for e in entries) for entry in entries if entry.name == name]


def _order(entry: Entry) -> date:
    return entry.since or date.min


def _entries(table: SettingsTable, data: dict[str, Any]) -> Iterator[Entry]:
    if table.name in ("shop", "rule"):
        said = {s.name: data[s.name] for s in table.settings if s.name in data}
        yield Entry(table.name, "", None, (), *(({}, said) if table.name == "rule" else (said, {})))
    if not table.section:
        return
    listed = data.get(table.section, [])
    for number, entry in enumerate([listed] if isinstance(listed, dict) else listed):
        at: Place = (table.section,) if isinstance(listed, dict) else (table.section, number)
        always = {s.name: entry[s.name] for s in always_of(table) if s.name in entry}
        name = name_of(table.name, always)
        inner = entry.get(table.dated) or [] if table.dated else []
        if not inner:
            yield Entry(table.name, name, entry.get("from"), at, always, _dated(table, entry))
        for place, later in enumerate(inner):
            dated_at = (*at, table.dated, place)
            yield Entry(table.name, name, later.get("from"), at, always, _dated(table, later), dated_at)


def _dated(table: SettingsTable, said: dict[str, Any]) -> dict[str, Any]:
    return {s.name: said[s.name] for s in dated_of(table) if s.name in said}


def name_of(table: str, said: dict[str, Any]) -> str:
    """What a thing is called by what tells it from others: its name, or a tax rate's regime and category."""
    by = NAMED_BY.get(table, ("name",))
    defaults = {s.name: s.default for s in SETTINGS[table].settings}
    return ", ".join(str(value) for part in by if (value := said.get(part, defaults[part])))
