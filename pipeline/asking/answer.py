"""Answering a question of the shop: the answer is a line of `shop.toml` or of a mapping, which says so in words."""

import json
import re
from collections.abc import Mapping as Values
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import AoT, InlineTable, Item

from pipeline import mapping
from pipeline.asking import sizes
from pipeline.database.open_database import opened
from pipeline.errors import UserError, call
from pipeline.reference import key
from pipeline.shop import Shop, checked, format_versions, load, saved_settings, settings_text
from pipeline.writing import whole

_QUESTIONS = "select question, position, ask, wants from intake.question order by position"
_CHOICES = "select choice, label, does, writes from intake.question_choice where question = $question order by choice"


ITEMS = "items"
"""The section of `shop.toml` that is a list: an entry an item."""


@dataclass(frozen=True)
class Answered:
    """What was answered, and the files that say so from now on."""

    ask: str
    label: str
    paths: tuple[Path, ...]


def answer(folder: Path, question: str, choice: int | str) -> Answered:
    """Answer a question of the last refresh: its name or its number, and the number of the choice, or what it wants
    to be told in words (an amount with its unit).

    The next refresh goes by it. Raises `UserError`, and writes nothing, where there is no such question or choice.
    """
    shop = load(folder)
    with opened(folder) as con:
        asked = con.execute(_QUESTIONS).fetchall()
        found = next((row for row in asked if question in (row[0], str(row[1]))), None)
        choices = con.execute(_CHOICES, {"question": found[0]}).fetchall() if found else []
    if not found:
        mend = f"See them with: {call('answer', folder)}"
        raise UserError(f"There is no question {question}.", str(folder), mend)
    wants, chosen = found[3], next((row for row in choices if row[0] == choice), None)
    if wants:
        chosen = choices[0]
    elif isinstance(choice, str):
        raise UserError(f"Question {question} has choices.", found[2], f"Take a number from 1 to {len(choices)}.")
    if not chosen:
        mend = f"Take a number from 1 to {len(choices)}."
        raise UserError(f"Question {question} has no choice {choice}.", found[2], mend)
    _, label, does, writes = chosen
    says = json.loads(writes)
    if wants:
        label = str(choice)
        says["shop"] = [_sized(shop, section, item, label) for section, item, _ in says["shop"]]
    written: dict[Path, bytes] = {}
    settings = _in_shop(shop, says["shop"], does) if says["shop"] else None
    for each in says["mappings"]:
        path, content = _in_mapping(shop, each, f"{found[2]} {label}", written)
        written[path] = content
    if settings:  # all of it can be read, or none of it comes into place
        saved_settings.save(folder, *settings, f"{found[2]} {label}")
    for path, content in written.items():
        whole.make_folder(path.parent)
        whole.write(path, content)
    paths = ([folder / "shop.toml"] if settings else []) + list(written)
    return Answered(found[2], label, tuple(paths))


# --- shop.toml --------------------------------------------------------------------------------------------------------


def _sized(shop: Shop, section: str, item: str, text: str) -> tuple[str, str, Any]:
    """The entry that says how much is in one of an item."""
    name, value = sizes.setting(text, shop)
    return section.replace(sizes.SIZE, f"{ITEMS}.{name}"), item, value


def _in_shop(shop: Shop, entries: list[tuple[str, str, Any]], does: str) -> tuple[bytes, bytes]:
    """The bytes of `shop.toml` before and after an answer that says so in it."""
    path = shop.folder / "shop.toml"
    before = after = path.read_bytes()
    for section, name, value in entries:
        if section.partition(".")[0] == ITEMS:
            edits = _of_item(after, name, section.partition(".")[2] or "category", value, as_comment(does))
        else:
            at = tuple(section.split(".")) if section else ()
            edits = [settings_text.Put(at, name, value, as_comment(does))]
        after = settings_text.changed(after, edits, str(path))
    checked(shop.folder, after)
    return before, after


def _of_item(content: bytes, item: str, name: str, value: Any, comment: str) -> list[settings_text.Edit]:
    """Say something of an item, such as what it is used for: in its entry of `[[items]]`, else in one of its own."""
    known = settings_text.values_in(content).get(ITEMS, [])
    at = next((n for n, each in enumerate(known) if key(str(each.get("name", ""))) == key(item)), len(known))
    new = [settings_text.Add((ITEMS,), {"name": item})] if at == len(known) else []
    return [*new, settings_text.Put((ITEMS, at), name, value, comment)]


def parsed(content: bytes, path: Path) -> tomlkit.TOMLDocument:
    """A file of settings as a document that keeps its comments. Raises `UserError` where it is no TOML."""
    try:
        return tomlkit.parse(content.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        raise UserError(f"This file can't be read: {error}", str(path), "Mend the line named.") from None


def file_bytes(document: tomlkit.TOMLDocument, before: bytes) -> bytes:
    """The document as its file holds it."""
    mark = b"\xef\xbb\xbf" if before.startswith(b"\xef\xbb\xbf") else b""
    return mark + tomlkit.dumps(document).encode()


def _put(document: tomlkit.TOMLDocument, section: str, name: str, value: Any, does: str, path: Path) -> None:
    """Put an entry into a section, made where it is not there yet, with what it does as a comment; all else stays."""
    at: Any = document
    parts = section.split(".") if section else []
    for place, part in enumerate(parts):
        if part not in at:
            outer = place < len(parts) - 1
            at[part] = tomlkit.inline_table() if isinstance(at, InlineTable) else tomlkit.table(is_super_table=outer)
        at = at[part]
        if isinstance(at, AoT) or not isinstance(at, Values):
            raise UserError(f"`{section}` is no section of words.", str(path), f"Write {name} = {value!r} by hand.")
    entry = _entry(value)
    if not isinstance(at, InlineTable):
        entry.comment(as_comment(does))
    at[name] = entry


def _entry(value: Any) -> Item:
    if isinstance(value, list | tuple):
        listed = tomlkit.array()
        listed.extend(value)
        return listed
    return tomlkit.item(value)


def as_comment(text: str) -> str:
    """A text as it may stand behind a value: on one line, without what TOML allows in no comment."""
    return re.sub(r"[\x00-\x1f\x7f]+", " ", text)[:200]


# --- mappings ---------------------------------------------------------------------------------------------------------


def _in_mapping(shop: Shop, each: Values[str, Any], told: str, written: Values[Path, bytes]) -> tuple[Path, bytes]:
    """Say it in the mapping that the table is read by; one of its own, told in part, where it has none. What is
    `written` by the same answer counts as if it stood there."""
    home = shop.path("mappings")
    more = [_checked(path, content) for path, content in written.items() if path.parent == home]
    known = [*(how for how in mapping.load(home) if how.name not in {new.name for new in more}), *more]
    below, sheet = str(each["file"]).removeprefix("inbox/"), str(each["sheet"])
    of_table = mapping.own(known, below, sheet)
    own = next((how.name for how in known if how.name == each["mapping"]), of_table.name if of_table else "")
    path = home / f"{own or mapping.new_name(known, below, sheet)}.toml"
    if own:
        before = written.get(path) or path.read_bytes()
    else:
        head = f"# What was answered about {below}. The rest of its columns is proposed, and asked about."
        lines = f'{format_versions.KEY} = {format_versions.NEWEST["mapping"]}\nrest = "ask"\n'
        before = (" ".join(head.split()) + "\n\n" + lines).encode()
    document = parsed(before, path)
    if not own:
        document["files"], document["sheets"] = mapping.exact(below, sheet)
        if each["headings"]:
            document["headings"] = _entry(each["headings"])
    if each["says"].get("record", document.get("record", "")) != document.get("record", ""):
        for setting in mapping.OF_ITS_RECORD:
            document.pop(setting, None)
    for setting, value in each["says"].items():
        _say(document, setting, value, told, path)
    content = file_bytes(document, before)
    _checked(path, content)
    return path, content


def _checked(path: Path, content: bytes) -> mapping.Mapping:
    return mapping.checked(path.stem, content.decode("utf-8-sig"), path)


def _say(document: tomlkit.TOMLDocument, setting: str, value: Any, told: str, path: Path) -> None:
    if isinstance(value, dict):
        for name, entry in value.items():
            if setting in ("columns", "helpers"):
                _freed(document, str(entry))
            _put(document, setting, name, entry, told, path)
    elif isinstance(value, list):
        for header in value:
            _freed(document, header)
        _put(document, "", setting, [*dict.fromkeys([*document.get(setting, []), *value])], told, path)
    elif document.get(setting) != value:
        _put(document, "", setting, value, told, path)


def _freed(document: tomlkit.TOMLDocument, header: str) -> None:
    """A column fills one field only: what it was said to be before gives way."""
    for section in (document.get("columns", {}), document.get("helpers", {})):
        for name in [name for name, other in section.items() if other == header]:
            section.remove(name)
