"""The `shop.toml` of a new shop: every setting with its default and why one would change it.

Prose begins with `# `; a setting that is left as it is begins with `#` and no blank, so that taking the `#` away
sets it.
"""

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from textwrap import wrap
from typing import Any

from pipeline.cleaning.taught_words import VOCABULARIES
from pipeline.settings import SETTINGS, Setting, SettingsTable
from pipeline.shop import format_versions
from pipeline.shop.settings_text import toml

_WIDTH = 100

_HEAD = """\
The settings of your shop. A line that begins with "#" and no blank shows a setting at its default, or an
example: take the "#" away to set it. Every rate, fee and pool counts from its `from` day on, and without one from
the first day; when a rate changes, add an entry and leave the old one, so that the past stays as it was."""

_FORM = "The version of this file's form, by which a later program knows how to read it: leave it as it is."

FIRST_RATE = Decimal(25)

SET: dict[tuple[str, str], Any] = {("person_rate", "name"): "Me", ("person_rate", "rate"): FIRST_RATE}
"""What stands in a new file without "#", beside `start`: a shop has somebody at the bench."""

EXAMPLES: dict[tuple[str, str], Any] = {
    ("shop", "time_zone"): "America/Chicago",
    ("machine", "name"): "router",
    ("machine", "bought"): date(2026, 1, 15),
    ("machine", "cost"): Decimal("4200.00"),
    ("machine", "salvage"): Decimal("600.00"),
    ("machine", "rate"): Decimal("3.50"),
    ("pool", "name"): "rent",
    ("pool", "operations"): ["cleaning"],
    ("pool", "amount"): Decimal("450.00"),
    ("pool", "rate"): Decimal("2.00"),
    ("channel", "name"): "online",
    ("channel", "share"): Decimal("0.065"),
    ("channel", "fixed"): Decimal("0.20"),
    ("channel", "payment_share"): Decimal("0.03"),
    ("channel", "payment_fixed"): Decimal("0.25"),
    ("operation", "name"): "engraving",
    ("item", "name"): "casting resin",
    ("item", "category"): "resin",
    ("item", "base_unit"): "ul",
    ("item", "density"): Decimal("1.10"),
    ("item", "density_a"): Decimal("1.13"),
    ("item", "density_b"): Decimal("1.03"),
    ("item", "kit"): 3785,
    ("item", "shelf_months"): 12,
    ("event", "name"): "SPRING-FAIR",
    ("event", "day"): date(2026, 4, 18),
    ("event", "fee"): Decimal("80.00"),
    ("change", "name"): "stirred for four minutes from this day on",
    ("change", "day"): date(2026, 3, 1),
    ("goal", "year"): 2026,
    ("goal", "result"): Decimal("6000.00"),
    ("goal", "pay"): Decimal("25.00"),
    ("goal", "pieces"): 120,
}
"""An example of each setting that has no telling default. Figures are invented; a data sheet decides the real ones."""

_BY_KIND: dict[str, Any] = {"text": "name", "date": date(2026, 1, 1), "yes_no": False}
LATER = date(2027, 1, 1)


def text(start: date) -> str:
    """The text of `shop.toml` for a shop whose records begin on `start`."""
    lines = [*_prose(_HEAD), "", *_prose(_FORM), f"{format_versions.KEY} = {format_versions.NEWEST['settings file']}"]
    for table in SETTINGS.values():
        lines += ["", *_table(table, start)]
    lines += ["", *_later_rules(SETTINGS["rule"]), "", *_words()]
    return "\n".join(lines) + "\n"


def _table(table: SettingsTable, start: date) -> Iterator[str]:
    if table.name == "rule":
        return _rules(table)
    return _section(table) if table.section else _top(table, start)


def _rules(table: SettingsTable) -> Iterator[str]:
    yield from _prose(table.meaning)
    for setting in table.settings:
        yield from _setting(setting, _value(table, setting), "#")


def _later_rules(table: SettingsTable) -> Iterator[str]:
    """Behind all that stands at the top of the file, since TOML takes what follows a section for a part of it."""
    yield from _prose("From a later day on; what it leaves out stays as it was:")
    first = table.settings[0]
    yield from (f"#[[{table.section}]]", f"#from = {toml(LATER)}", f"#{first.name} = {toml(_value(table, first))}")


def _top(table: SettingsTable, start: date) -> Iterator[str]:
    yield from _prose(table.meaning)
    for setting in table.settings:
        if setting.name == "start":
            yield from _setting(setting, start, "")
        else:
            yield from _setting(setting, _value(table, setting), "#")


def _section(table: SettingsTable) -> Iterator[str]:
    """One entry of a list, whole, as an example; a nested list of dated entries with two of them."""
    is_set = (table.name, "name") in SET
    yield from _prose(table.meaning)
    yield f"{'' if is_set else '#'}[[{table.section}]]"
    for setting in table.settings:
        yield from _setting(setting, _value(table, setting), _mark(table, setting))
    if not table.dated:
        return
    yield f"{'' if is_set else '#'}[[{table.section}.{table.dated}]]"
    for setting in table.dated_settings:
        yield from _setting(setting, _value(table, setting), _mark(table, setting))
    yield from _prose("From a later day on:")
    yield f"#[[{table.section}.{table.dated}]]"
    yield f"#from = {toml(LATER)}"
    first = table.dated_settings[0]
    yield f"#{first.name} = {toml(_value(table, first))}"


def _mark(table: SettingsTable, setting: Setting) -> str:
    return "" if (table.name, setting.name) in SET else "#"


def _value(table: SettingsTable, setting: Setting) -> Any:
    for known in (SET, EXAMPLES):
        if (table.name, setting.name) in known:
            return known[table.name, setting.name]
    if setting.default is not None:
        return setting.default
    return setting.choices[0] if setting.choices else _BY_KIND.get(setting.kind, 0)


def _setting(setting: Setting, value: Any, mark: str) -> Iterator[str]:
    one_of = f" One of: {', '.join(setting.choices)}." if setting.choices else ""
    needed = " Needed." if setting.required else ""
    none = " Without it, none." if setting.default is None and not setting.required else ""
    yield from _prose(f"{setting.why}{one_of}{needed}{none}")
    yield f"{mark}{setting.name} = {toml(value)}"


def _words() -> Iterator[str]:
    yield from _prose(
        "Words of your own: what you write, and what it means. A section for each kind of word: "
        f"{', '.join(VOCABULARIES)}."
    )
    yield "#[words.species]"
    yield '#"the dark one" = "black walnut"'


def _prose(told: str) -> Iterator[str]:
    for line in wrap(" ".join(told.split()), _WIDTH):
        yield f"# {line}"
