"""A change of the settings as it is meant, turned into the text of `shop.toml` that says it, and a sentence about it.

Four ways: from a day on, one entry mended, what holds on every day, a new thing; and an entry taken out. A thing is
found by its name and day, not by its place: another page may have changed the file meanwhile.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from pipeline.changing.entries import Entry, Stand, always_of, dated_of, name_of
from pipeline.changing.renamed import renamed
from pipeline.changing.typed import UnfitError, as_typed, day_of, values_of
from pipeline.cleaning.taught_words import CHOICES, VOCABULARIES
from pipeline.errors import UserError
from pipeline.reference import key
from pipeline.settings import SETTINGS, Setting
from pipeline.shop import checked
from pipeline.shop.settings_text import Add, Drop, Edit, Out, Place, Put, changed

LATER, MEND, ALWAYS, NEW, OUT, WORD = "later", "mend", "always", "new", "out", "word"


@dataclass(frozen=True)
class Change:
    """What a form asks for: the way, the table, the thing, the day of the entry meant, and the texts of its fields.

    Of a word taught, `table` is its vocabulary, and `typed` has `word` and `meaning`.
    """

    way: str
    table: str
    name: str = ""
    since: date | None = None
    typed: Mapping[str, str] | None = None


@dataclass(frozen=True)
class Planned:
    """A change that can be tried and saved: the file before and after it, and what it is in words."""

    before: bytes
    after: bytes
    said: str


def plan(now: Stand, asked: Change) -> Planned:
    """What is to be written. Raises `UnfitError` for fields that can't be taken, `UserError` for what can't be so."""
    ways = {LATER: _later, MEND: _mended, ALWAYS: _always, NEW: _new, OUT: _taken_out, WORD: _word}
    edits, said = ways[asked.way](now, asked)
    where = str(now.shop.folder / "shop.toml")
    if not edits:
        raise UserError("That is what it says already.", where, "Change a field, then look again.")
    after = changed(now.content, edits, where)
    checked(now.shop.folder, after)
    return Planned(now.content, after, said)


def _values(
    now: Stand, settings: Sequence[Setting], asked: Change, known: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    return values_of(tuple(settings), asked.typed or {}, now.shop.minor_digits, known)


def _later(now: Stand, asked: Change) -> tuple[list[Edit], str]:
    """Other figures from a day on: what came before stays."""
    table = SETTINGS[asked.table]
    day = day_of((asked.typed or {}).get("from", ""))
    if day is None:
        raise UnfitError({"from": "The day is lacking. Say from which day on it holds."})
    if day < now.start:
        raise UnfitError({"from": f"The records begin on {now.start}. Choose a later day, or mend the first entry."})
    there = now.of(asked.table, asked.name)
    in_force = known_on(there, day, now.start, asked.table == "rule")
    values = _values(now, dated_of(table), asked, in_force)
    if asked.table == "rule":
        return _other_rules(now, asked, values, in_force, day)
    said = _said(now, asked, values, dated_of(table), f"from {day}")
    same = [entry for entry in there if (entry.since or now.start) == day]
    if same:
        return _differing(same[-1].place, same[-1].dated, values), said
    if not there:
        raise _gone(asked)
    new = {"from": day} | {n: v for n, v in values.items() if v is not None}
    return _one_more(now, there, new, table.dated), said


def _other_rules(
    now: Stand, asked: Change, values: dict[str, Any], in_force: dict[str, Any], day: date
) -> tuple[list[Edit], str]:
    """Of the rules only what changes is said: what a later entry leaves out goes on. So an emptied field says what is
    usual, and a rule that has nothing usual can't end on a day."""
    table = SETTINGS["rule"]
    usual = {setting.name: setting.default for setting in table.settings}
    told = {n: usual[n] if v is None else v for n, v in values.items()}
    new = {n: v for n, v in told.items() if not _same(in_force.get(n, usual[n]), v)}
    endless = [n for n, v in new.items() if v is None]
    if endless:
        mend = "It can't be empty from a day on. Write the figure that holds then, or mend the entry that says it."
        raise UnfitError(dict.fromkeys(endless, mend))
    said = _said(now, asked, new, table.settings, f"from {day}")
    same = [entry for entry in now.of("rule", "") if (entry.since or now.start) == day]
    if same:
        return [Put(same[-1].place, name, value) for name, value in new.items()], said
    return ([Add((table.section,), {"from": day} | new)] if new else []), said


def _one_more(now: Stand, there: list[Entry], new: dict[str, Any], dated: str) -> list[Edit]:
    last = there[-1]
    at = (*last.at, dated)
    listed = [entry for entry in there if entry.at == last.at and entry.dated_at]
    if listed:
        earlier = sum((entry.since or now.start) <= new["from"] for entry in listed)
        in_order = [entry.dated_at for entry in listed] == [(*at, n) for n in range(len(listed))]
        return [Add(at, new, earlier if in_order else None)]
    # what stood in the entry itself becomes the first of the list
    said = ({"from": last.since} if last.since else {}) | last.dated
    first = [Add(at, said), Add(at, new)] if (last.since or now.start) < new["from"] else [Add(at, new), Add(at, said)]
    return [*first, *(Drop(last.at, name) for name in said)]


def _mended(now: Stand, asked: Change) -> tuple[list[Edit], str]:
    """An entry that was wrong from its day on."""
    table = SETTINGS[asked.table]
    entry = _entry(now, asked)
    settings = dated_of(table) or always_of(table)
    known = entry.dated if dated_of(table) else entry.always
    values = _values(now, settings, asked, known)
    if not dated_of(table):
        _free(now, asked, values)
    followed = renamed(now, asked.table, asked.name, values)
    edits = [*_differing(entry.place, known, values), *followed]
    day = day_of((asked.typed or {}).get("from", ""))
    if day and day != (entry.since or now.start):
        edits.append(Put(entry.place, "from", day))
    named = {n: v for n, v in values.items() if v != known.get(n)}
    said = _said(now, asked, named, settings, f"since {entry.since or 'the start'}" if dated_of(table) else "")
    return edits, f"{said}{_with_records(asked, followed)}"


def _always(now: Stand, asked: Change) -> tuple[list[Edit], str]:
    """What holds of a thing on every day, in all entries of it."""
    settings = always_of(SETTINGS[asked.table])
    there = now.of(asked.table, asked.name)
    if not there:
        raise _gone(asked)
    values = _values(now, settings, asked, there[0].always)
    _free(now, asked, values)
    edits = [edit for at in dict.fromkeys(entry.at for entry in there) for edit in _of_place(there, at, values)]
    named = {n: v for n, v in values.items() if v != there[0].always.get(n)}
    followed = renamed(now, asked.table, asked.name, values)
    return [*edits, *followed], f"{_said(now, asked, named, settings, '')}{_with_records(asked, followed)}"


def _with_records(asked: Change, followed: list[Edit]) -> str:
    return f"; records that say “{asked.name}” mean it too" if followed else ""


def _free(now: Stand, asked: Change, values: Mapping[str, Any]) -> None:
    """Raise `UnfitError` for a name that another thing of its kind has: the two would be one."""
    name = name_of(asked.table, dict(values)) if "name" in values else asked.name
    others = [other for other in now.names(asked.table) if other != asked.name]
    if name != asked.name and key(name) in map(key, others):
        raise UnfitError({"name": f"“{name}” is there already. Give this one a name of its own."})


def _of_place(there: list[Entry], at: Place, values: dict[str, Any]) -> list[Edit]:
    return _differing(at, next(entry.always for entry in there if entry.at == at), values)


def _new(now: Stand, asked: Change) -> tuple[list[Edit], str]:
    table = SETTINGS[asked.table]
    fixed = {n: v for n, v in _values(now, always_of(table), asked).items() if v is not None}
    dated = {n: v for n, v in _values(now, dated_of(table), asked).items() if v is not None}
    day = day_of((asked.typed or {}).get("from", "")) if table.dated else None
    name = name_of(asked.table, fixed)
    if key(name) in map(key, now.names(asked.table)):
        first = next(setting.name for setting in table.settings)
        raise UnfitError({first: f"“{name}” is there already. Choose it in the list, or give this one another name."})
    edits: list[Edit] = [Add((table.section,), fixed)]
    if dated or day:
        number = len({entry.at for entry in now.entries[asked.table] if entry.at})
        edits.append(Add((table.section, number, table.dated), ({"from": day} if day else {}) | dated))
    said = _said(now, Change(NEW, asked.table, name), fixed | dated, (*table.settings, *table.dated_settings), "new")
    return edits, said


def _taken_out(now: Stand, asked: Change) -> tuple[list[Edit], str]:
    """An entry that should not be there. The last of a thing takes all that is said of it along."""
    entry = _entry(now, asked)
    if not entry.at:
        raise UserError("What holds from the start can't be taken out.", "shop.toml", "Change its fields instead.")
    alone = not entry.dated_at or sum(e.at == entry.at for e in now.of(asked.table, asked.name)) == 1
    since = f" since {entry.since}" if entry.since else ""
    title = asked.name or SETTINGS[asked.table].section
    return [Out(entry.at if alone else entry.place)], f"{title}: what it says{since} is taken out"


def _word(now: Stand, asked: Change) -> tuple[list[Edit], str]:
    """A word taught, another meaning of it, or, with no meaning, a word that means what it says again."""
    typed = {name: " ".join(text.split()) for name, text in (asked.typed or {}).items()}
    word, meaning = typed.get("word", ""), typed.get("meaning", "")
    if asked.table not in VOCABULARIES:
        raise UnfitError({"vocabulary": f"No field has such words. Choose one of: {', '.join(VOCABULARIES)}."})
    text = Setting("word", "text", None, "", required=True)
    values_of((text,), {"word": word}, 2)
    values_of((Setting("meaning", "text", None, ""),), {"meaning": meaning}, 2)
    known = now.words.get(asked.table, {})
    place: Place = ("words", asked.table)
    if not meaning:
        if word not in known:
            raise UnfitError({"meaning": f"Say what “{word}” means."})
        return [Drop(place, word)], f"{asked.table}: “{word}” is taught no more"
    if asked.table in CHOICES and key(meaning) not in map(key, CHOICES[asked.table]):
        raise UnfitError({"meaning": f"It can mean: {', '.join(CHOICES[asked.table])}."})
    said = f"{asked.table}: “{word}” means {meaning}"
    return ([] if known.get(word) == meaning else [Put(place, word, meaning)]), said


def _differing(at: Place, known: Mapping[str, Any], values: Mapping[str, Any]) -> list[Edit]:
    """The edits that make what is `known` at a place say these values; None says nothing there."""
    put: list[Edit] = [Put(at, n, v) for n, v in values.items() if v is not None and not _same(known.get(n), v)]
    return [*put, *(Drop(at, n) for n, v in values.items() if v is None and n in known)]


def _same(one: Any, other: Any) -> bool:
    return (type(one) is type(other) and one == other) or (_is_number(one) and _is_number(other) and one == other)


def _is_number(value: Any) -> bool:
    return not isinstance(value, bool) and hasattr(value, "__round__")


def known_on(there: list[Entry], day: date, start: date, added_up: bool) -> dict[str, Any]:
    """What holds of a thing on a day. `added_up`: what an entry leaves out is as the one before says, as of rules."""
    found: dict[str, Any] = {}
    for entry in there:
        if (entry.since or start) <= day:
            found = found | entry.dated if added_up else dict(entry.dated)
    return found


def _entry(now: Stand, asked: Change) -> Entry:
    found = [entry for entry in now.of(asked.table, asked.name) if entry.since == asked.since]
    if not found:
        raise _gone(asked)
    return found[-1]


def _gone(asked: Change) -> UserError:
    return UserError(f"`{asked.name}` is in shop.toml no more.", "shop.toml", "Look at the list once more.")


def _said(now: Stand, asked: Change, values: Mapping[str, Any], settings: Sequence[Setting], when: str) -> str:
    """ "Mara, from 2026-05-01: rate 32.00"."""
    known = {setting.name: setting for setting in settings}
    minor = now.shop.minor_digits
    told = ", ".join(
        f"{name.replace('_', ' ')} {as_typed(known[name], value, minor) or 'none'}"
        for name, value in values.items()
        if name in known and (name not in ("name", "year") or asked.way in (MEND, ALWAYS))
    )
    head = ", ".join(part for part in (asked.name or SETTINGS[asked.table].section or "the shop", when) if part)
    return f"{head}: {told}" if told else head
