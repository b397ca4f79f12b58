"""The lines of a TOML text that can be read, each with its place in the text: a value may reach over several lines."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

ENTRY, TABLE, LIST, REMARK = "entry", "table", "list", "remark"

_QUOTED = {
    '"""': re.compile(r'"""(?:[^\\]|\\.)*?"{3,5}', re.DOTALL),
    "'''": re.compile(r"'''.*?'{3,5}", re.DOTALL),
    '"': re.compile(r'"(?:[^"\\]|\\.)*"'),
    "'": re.compile(r"'[^']*'"),
}
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SPACE = re.compile(r"[ \t]*")
_LINE_END = re.compile(r"\r\n|\n|\r")
_ESCAPE = re.compile(r"\\(?:u([0-9A-Fa-f]{4})|U([0-9A-Fa-f]{8})|x([0-9A-Fa-f]{2})|(.))")
_SHORT = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", "e": "\x1b"}


@dataclass(frozen=True)
class Line:
    """What stands on a line, or on several: its kind, the path of a heading or the name of an entry, and from where to
    where it goes in the text, with its line end; of an entry also its value."""

    kind: str
    path: tuple[str, ...]
    begin: int
    end: int
    value: tuple[int, int] = (0, 0)

    def text(self, whole: str) -> str:
        return whole[self.begin : self.end]


def lines_of(text: str) -> list[Line]:
    """All of the text, line by line. Raises `ValueError` where it is no TOML."""
    return list(_lines(text))


def _lines(text: str) -> Iterator[Line]:
    at = 0
    while at < len(text):
        begin, at = at, _space(text, at)
        kind, value = REMARK, (0, 0)
        path: tuple[str, ...] = ()
        if text.startswith("[", at):
            kind = LIST if text.startswith("[[", at) else TABLE
            path, at = _path(text, at + len("[[" if kind == LIST else "["))
        elif at < len(text) and text[at] not in "#\r\n":
            kind = ENTRY
            path, at = _path(text, at)
            if not text.startswith("=", at):
                raise ValueError(f"no `=` at {at}")
            start = _space(text, at + 1)
            at = _behind_value(text, start)
            value = start, at
        found = _LINE_END.search(text, at)
        at = found.end() if found else len(text)
        yield Line(kind, path, begin, at, value)


def _space(text: str, at: int) -> int:
    found = _SPACE.match(text, at)
    return found.end() if found else at


def _path(text: str, at: int) -> tuple[tuple[str, ...], int]:
    """The parts of a dotted name, and where it ends with the blanks behind it."""
    parts = []
    while True:
        at = _space(text, at)
        quoted = text[at : at + 1] in ("'", '"')
        found = (_QUOTED[text[at]] if quoted else _BARE).match(text, at)
        if not found:
            raise ValueError(f"no name at {at}")
        name = found[0]
        parts.append(_unescaped(name[1:-1]) if name[0] == '"' else name[1:-1] if quoted else name)
        at = _space(text, found.end())
        if not text.startswith(".", at):
            return tuple(parts), at
        at += 1


def _unescaped(text: str) -> str:
    def said(found: re.Match[str]) -> str:
        digits = found[1] or found[2] or found[3]
        return chr(int(digits, 16)) if digits else _SHORT.get(found[4], found[4])

    return _ESCAPE.sub(said, text)


def _behind_value(text: str, at: int) -> int:
    """Where a value ends: its strings and brackets closed, before a comment or the line's end."""
    depth, last = 0, at
    while at < len(text):
        mark = text[at]
        if mark in "\"'":
            quote = text[at : at + 3] if text[at : at + 3] in _QUOTED else mark
            found = _QUOTED[quote].match(text, at)
            if not found:
                raise ValueError(f"no end of the text at {at}")
            at = last = found.end()
            continue
        if mark == "#":
            if not depth:
                break
            found = _LINE_END.search(text, at)
            at = found.start() if found else len(text)
            continue
        if mark in "\r\n" and not depth:
            break
        depth += (mark in "[{") - (mark in "]}")
        at += 1
        if mark not in " \t\r\n":
            last = at
    return last
