"""The pages of the shop floor: the one to pair a phone with, and the Log, as plain forms of the records' own fields."""

from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

import jinja2

from dashboard import log_fields
from dashboard.floor.work import OFFERED
from dashboard.log_fields import BY_CATEGORY, FIRST, KINDS, MIND, UNIT_OF, UNITS
from pipeline.pages import devices
from pipeline.records import RECORDS, Field

_HOME = Path(__file__).parent
_TEMPLATES = jinja2.Environment(
    loader=jinja2.FileSystemLoader(_HOME), autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True
)

_KINDS = {".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8"}
FILES = {
    ("GET", f"/{name}".encode()): ((_HOME / name).read_bytes(), _KINDS[Path(name).suffix])
    for name in ("keep.js", "pair.js", "floor.js", "worker.js", "floor.css")
}
"""Scripts and style, files of their own: none stands in a page."""


@dataclass(frozen=True)
class FormField:
    """A field of a form: how it is asked, what it says at first, and the categories that it is for (all where none)."""

    name: str
    label: str
    how: str
    needed: bool = False
    sample: str = ""
    meaning: str = ""
    choices: tuple[str, ...] = ()
    first: str = ""
    categories: str = ""
    words: bool = False
    several: bool = False


@dataclass(frozen=True)
class Form:
    """A kind of entry: what one calls it, its record, the fields shown at once, all others, and what to mind."""

    title: str
    record: str
    asked: tuple[FormField, ...]
    more: tuple[FormField, ...]
    mind: str


@cache
def forms() -> tuple[Form, ...]:
    """The forms of the Log in its own order."""
    return tuple(_form(title, record) for title, record in KINDS.items())


@lru_cache(maxsize=32)
def log(device: str) -> str:
    """The Log for a paired device."""
    return _TEMPLATES.get_template("log.html").render(forms=forms(), device=device, units=UNIT_OF, mind=MIND["hours"])


PAIRING = _TEMPLATES.get_template("pair.html").render(digits=devices.DIGITS)
"""All that a device sees that isn't paired: nothing of the shop."""


def _form(title: str, record: str) -> Form:
    of = {name: " ".join(c for c, names in BY_CATEGORY.items() if name in names) for name in _by_category(record)}
    shown = [*FIRST[record], *of]
    unit = log_fields.FIRST_UNIT.get(record, "")
    asked = [_asked(RECORDS[record].field(name), of.get(name, ""), unit) for name in dict.fromkeys(shown)]
    more = [_asked(field, "", unit) for field in RECORDS[record] if field.name not in shown]
    return Form(title, record, tuple(asked), tuple(more), MIND.get(record, ""))


def _by_category(record: str) -> dict[str, None]:
    names = dict.fromkeys(name for names in BY_CATEGORY.values() for name in names)
    return names if record == "purchases" else {}


_HOW = {"date": "date", "time": "time", "yes_no": "yes_no", "choice": "choice"}
_DECIMAL = ("money", "quantity", "number", "percent", "temperature")


def _asked(field: Field, categories: str, unit: str) -> FormField:
    how = _HOW.get(field.kind, "decimal" if field.kind in _DECIMAL else "numeric" if field.kind == "count" else "text")
    sample = log_fields.HOLDERS.get(field.name) or log_fields.sample(field) or ""
    firsts = {"yes_no": "yes" if field.default else "", "date": "today" if field.required else "", "unit": unit}
    first = firsts.get(field.kind, "")
    return FormField(
        field.name,
        log_fields.label(field),
        how,
        field.required and not field.unless,
        sample,
        log_fields.meaning(field) or "",
        tuple(field.choices) or (UNITS if field.kind == "unit" else ()),
        "in progress" if (field.name, field.kind) == ("status", "choice") else first,
        categories,
        field.kind in OFFERED,
        field.kind == "tags",
    )
