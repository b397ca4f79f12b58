"""Changing the text of a `shop.toml`: values and entries put in, or taken out, where a person would write them.

All else stays byte for byte: comments, order, line ends. What is taken out is kept as a comment. The library that
writes TOML puts what is new behind the comments of the next section, so it writes only what stands in a form of its
own: in braces, or under a dotted name. Either way the result is read again, and must say just what was meant.
"""

import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

import tomlkit

from pipeline.errors import UserError
from pipeline.shop.toml_lines import ENTRY, LIST, TABLE, Line, lines_of

Place = tuple[str | int, ...]
"""Where something stands: `("people", 0, "rates", 1)`; `()` is the top of the file."""

_MARK = "\ufeff"
_KEY = re.compile(r"[A-Za-z0-9_-]+")


@dataclass(frozen=True)
class Put:
    """Say `name = value` at a place, in place of what it says there; `comment` stands behind it."""

    at: Place
    name: str
    value: Any
    comment: str = ""


@dataclass(frozen=True)
class Drop:
    """Say `name` at a place no more."""

    at: Place
    name: str


@dataclass(frozen=True)
class Add:
    """One more entry of the list at a place, as the one of that number, from 0; None is the last."""

    at: Place
    values: Mapping[str, Any]
    number: int | None = None


@dataclass(frozen=True)
class Out:
    """The entry at a place is there no more."""

    at: Place


Edit = Put | Drop | Add | Out


def values_in(content: bytes) -> dict[str, Any]:
    """What the bytes of a file say, as the library that reads TOML gives it."""
    return tomllib.loads(_plain(content.decode("utf-8-sig")), parse_float=Decimal)


def changed(content: bytes, edits: Sequence[Edit], where: str) -> bytes:
    """The bytes of the file after these edits, one after the other. Raises `UserError` where one can't be written."""
    try:
        wanted = values_in(content)
    except (ValueError, RecursionError, ArithmeticError) as error:
        raise UserError(f"shop.toml can't be read: {error}.", where, "Mend the line named.") from None
    text = content.decode("utf-8-sig")
    for edit in edits:
        try:
            apply(wanted, edit)
        except (LookupError, TypeError, AttributeError):
            raise _in_another_form(edit, where) from None
        text = _edited(text, edit, wanted, where)
    return (_MARK if content.startswith(_MARK.encode()) else "").encode() + text.encode()


def apply(data: Any, edit: Edit) -> None:
    """The edit made to what the file says."""
    match edit:
        case Put():
            _made(data, edit.at)[edit.name] = _as_read(edit.value)
        case Drop():
            _within(data, edit.at).pop(edit.name, None)
        case Add():
            listed = _made(data, edit.at[:-1]).setdefault(edit.at[-1], [])
            listed.insert(len(listed) if edit.number is None else edit.number, _as_read(edit.values))
        case Out():
            listed = _within(data, edit.at[:-1])
            listed.pop(edit.at[-1])
            if not listed:  # a list without entries can't be written as [[…]]
                _within(data, edit.at[:-2]).pop(edit.at[-2])


def _as_read(value: Any) -> Any:
    """A value as it is read back: what has decimals is a `Decimal`."""
    if isinstance(value, Mapping):
        return {name: _as_read(each) for name, each in value.items()}
    if isinstance(value, list | tuple):
        return [_as_read(each) for each in value]
    return Decimal(str(value)) if isinstance(value, float) else value


def toml(value: Any) -> str:
    """A value as TOML writes it."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return str(tomlkit.item(value).as_string())
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(toml(each) for each in value)}]"
    return value.isoformat() if isinstance(value, date) else str(value)


def _edited(text: str, edit: Edit, wanted: dict[str, Any], where: str) -> str:
    for way in (_as_a_person, _at_the_end, _by_the_library):
        try:
            found = way(text, edit)
            if _without_empty(values_in(found.encode())) == _without_empty(wanted):
                return found
        except (ValueError, LookupError, TypeError, AttributeError, RecursionError):
            continue
    raise _in_another_form(edit, where)


def _without_empty(data: Any) -> Any:
    """What a file says but for tables that say nothing: a dotted name that is gone takes its table along."""
    if isinstance(data, list):
        return [_without_empty(each) for each in data]
    if not isinstance(data, dict):
        return data
    told = {name: _without_empty(each) for name, each in data.items()}
    return {name: each for name, each in told.items() if each != {}}


def _in_another_form(edit: Edit, where: str) -> UserError:
    named = ".".join(str(part) for part in edit.at if isinstance(part, str))
    what = f"`{named or 'It'}` is written in a form that can't be changed from here."
    return UserError(what, where, "Change it in the file, then refresh.")


def _plain(text: str) -> str:
    """Its line ends as TOML knows them."""
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _within(data: Any, at: Place) -> Any:
    for part in at:
        data = data[part]
    return data


def _made(data: Any, at: Place) -> Any:
    for part in at:
        data = data.setdefault(part, {}) if isinstance(part, str) else data[part]
    return data


# --- as a person writes it --------------------------------------------------------------------------------------------


def _as_a_person(text: str, edit: Edit) -> str:
    lines = lines_of(text)
    ways: dict[type, Callable[[str, list[Line], Any], str]] = {Put: _put, Drop: _drop, Add: _add, Out: _out}
    return ways[type(edit)](text, lines, edit)


def _put(text: str, lines: list[Line], edit: Put) -> str:
    own = _own(lines, edit.at)
    there = next((line for line in own if line.kind == ENTRY and line.path == (edit.name,)), None)
    comment = f" # {edit.comment}" if edit.comment else ""
    if there:
        begin, end = there.value
        if "#" in text[begin:end] and "\n" in _plain(text[begin:end]):  # remarks stand in it
            below = f"{_indent([there], text)}{_named(edit.name)} = {toml(edit.value)}{comment}"
            kept = _commented(text, [there])
            return _inserted(kept, len(kept) - len(text[there.end :]), [below])
        rest = text[end : there.end]
        if comment and not rest.strip():  # a comment of the maker's own stays
            rest = f"{comment}{_line_end(rest)}"
        return f"{text[:begin]}{toml(edit.value)}{rest}{text[there.end :]}"
    if not own and edit.at:
        return _new_table(text, lines, edit, comment)
    new = f"{_indent(own, text)}{_named(edit.name)} = {toml(edit.value)}{comment}"
    # below the line that shows it as it is usually, else below what is said last
    shown = re.compile(rf"#{re.escape(edit.name)}\s*=")
    after = [line for line in own if shown.match(line.text(text).strip())] or [
        line for line in own if line.kind in (ENTRY, TABLE, LIST)
    ]
    return _inserted(text, after[-1].end if after else 0, [new])


def _new_table(text: str, lines: list[Line], edit: Put, comment: str) -> str:
    if not all(isinstance(part, str) for part in edit.at):
        raise LookupError(edit.at)
    head = f"[{'.'.join(_named(str(part)) for part in edit.at)}]"
    return _section(text, lines, head, [f"{_named(edit.name)} = {toml(edit.value)}{comment}"])


def _drop(text: str, lines: list[Line], edit: Drop) -> str:
    said = [line for line in _own(lines, edit.at) if line.kind == ENTRY and line.path == (edit.name,)]
    return _commented(text, said)


def _add(text: str, lines: list[Line], edit: Add) -> str:
    path = tuple(part for part in edit.at if isinstance(part, str))
    head = f"[[{'.'.join(map(_named, path))}]]"
    said = [f"{_named(name)} = {toml(value)}" for name, value in edit.values.items()]
    there = _entries(lines, edit.at)
    if len(edit.at) == 1:
        if not there:
            return _section(text, lines, head, said)
        return _inserted(text, _last(there[-1]).end, ["", head, *said])
    if not there:
        parent = _own(lines, edit.at[:-1])
        if not parent:
            raise LookupError(edit.at)
        indent = _indent(parent[:1], text)
        return _inserted(text, _last(parent).end, [f"{indent}{line}" for line in (head, *said)])
    number = len(there) if edit.number is None else edit.number
    indent = _indent(there[0][:1], text)
    at = _last(there[number - 1]).end if number else there[0][0].begin
    return _inserted(text, at, [f"{indent}{line}" for line in (head, *said)])


def _out(text: str, lines: list[Line], edit: Out) -> str:
    entry = _entries(lines, edit.at[:-1])[int(edit.at[-1])]
    return _commented(text, [line for line in entry if line.kind in (ENTRY, TABLE, LIST)])


def _at_the_end(text: str, edit: Edit) -> str:
    """A section that is new, at the end of the file, where it can't stand below its example."""
    if isinstance(edit, Add) and len(edit.at) == 1:
        said = [f"{_named(name)} = {toml(value)}" for name, value in edit.values.items()]
        return _inserted(text, len(text), ["", f"[[{_named(str(edit.at[0]))}]]", *said])
    if isinstance(edit, Put) and edit.at and all(isinstance(part, str) for part in edit.at):
        head = f"[{'.'.join(_named(str(part)) for part in edit.at)}]"
        return _inserted(text, len(text), ["", head, f"{_named(edit.name)} = {toml(edit.value)}"])
    raise LookupError(edit.at)


def _own(lines: list[Line], at: Place) -> list[Line]:
    """The lines that stand at a place itself: its heading, and what follows it up to the next one."""
    if not at:
        heads = [number for number, line in enumerate(lines) if line.kind in (TABLE, LIST)]
        return lines[: heads[0]] if heads else lines
    if isinstance(at[-1], int):
        entry = _entries(lines, at[:-1])[at[-1]]
    else:
        heads = [n for n, line in enumerate(lines) if line.kind == TABLE and line.path == at]
        entry = lines[heads[0] :] if heads else []
    ends = next((n for n, line in enumerate(entry) if n and line.kind in (TABLE, LIST)), len(entry))
    return entry[:ends]


def _entries(lines: list[Line], at: Place) -> list[list[Line]]:
    """The entries of a list of tables, each with all its lines and those of what is below it."""
    path = tuple(part for part in at if isinstance(part, str))
    region = _entries(lines, at[:-2])[int(at[-2])] if len(at) > 1 else lines
    found: list[list[Line]] = []
    inside = False
    for line in region:
        if line.kind in (TABLE, LIST):
            if line.kind == LIST and line.path == path:
                found.append([])
                inside = True
            else:  # what is below it may stand behind another section, and is the last one's then
                inside = bool(found) and line.path[: len(path)] == path
        if inside:
            found[-1].append(line)
    return found


def _last(entry: list[Line]) -> Line:
    """The last line of an entry that says something: comments behind it may be about what follows."""
    return [line for line in entry if line.kind in (ENTRY, TABLE, LIST)][-1]


def _section(text: str, lines: list[Line], head: str, said: list[str]) -> str:
    """A section of which there was none: below the example of it in the comments, else at the end."""
    shown = re.compile(rf"#\s*{re.escape(head)}")
    at = next((n for n, line in enumerate(lines) if shown.match(line.text(text).strip())), None)
    if at is None:
        return _inserted(text, len(text), ["", head, *said])
    while at + 1 < len(lines) and lines[at + 1].text(text).strip().startswith("#"):
        at += 1
    return _inserted(text, lines[at].end, ["", head, *said])


def _inserted(text: str, at: int, new: list[str]) -> str:
    ends = _ends(text)
    before = text[:at]
    if not before.strip() and new[:1] == [""]:
        new = new[1:]
    if before and not before.endswith(("\n", "\r")):
        before += ends
    return before + "".join(f"{line}{ends}" for line in new) + text[at:]


def _ends(text: str) -> str:
    """How the lines of a text end."""
    return "\r\n" if "\r\n" in text else "\r" if "\r" in text and "\n" not in text else "\n"


def _commented(text: str, out: list[Line]) -> str:
    if not out:
        raise LookupError("nothing to take out")
    for line in reversed(out):
        kept = re.sub(r"(?m)^(?=.)", "#", line.text(text).replace("\r\n", "\n").replace("\r", "\n"))
        ends = "\r\n" if "\r\n" in line.text(text) else "\r" if line.text(text).endswith("\r") else "\n"
        text = text[: line.begin] + kept.replace("\n", ends) + text[line.end :]
    return text


def _indent(own: list[Line], text: str) -> str:
    last = next((line for line in reversed(own) if line.kind in (ENTRY, TABLE, LIST)), None)
    shown = last.text(text) if last else ""
    return shown[: len(shown) - len(shown.lstrip(" \t"))]


def _line_end(text: str) -> str:
    return text[len(text.rstrip("\r\n")) :]


def _named(name: str) -> str:
    return name if _KEY.fullmatch(name) else toml(name)


# --- what stands in a form of its own ---------------------------------------------------------------------------------


def _by_the_library(text: str, edit: Edit) -> str:
    """It knows no line ends but one, and writes that alone: so it is given that, and all ends are put back."""
    document = tomlkit.parse(_plain(text))
    match edit:
        case Put():
            at: Any = document
            for part in edit.at:
                if isinstance(part, str) and part not in at:
                    at[part] = tomlkit.inline_table()
                at = at[part]
            at[edit.name] = tomlkit.value(toml(edit.value))
        case Drop():
            del _within(document, edit.at)[edit.name]
        case Add():
            parent = _within(document, edit.at[:-1])
            if edit.at[-1] not in parent:
                parent[edit.at[-1]] = tomlkit.array()
            entry = tomlkit.inline_table()
            entry.update({name: tomlkit.value(toml(value)) for name, value in edit.values.items()})
            listed = parent[edit.at[-1]]
            listed.insert(len(listed) if edit.number is None else edit.number, entry)
        case Out():
            listed = _within(document, edit.at[:-1])
            listed.pop(edit.at[-1])
            if not len(listed):
                del _within(document, edit.at[:-2])[edit.at[-2]]
    return tomlkit.dumps(document).replace("\n", _ends(text))
