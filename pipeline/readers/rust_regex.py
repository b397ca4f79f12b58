"""A pattern of Python's `re` in Rust's grammar, fitting all that it fits and more, to pass over most cells quickly."""

import re

_LOOK = re.compile(r"\(\?<?[!=]")
_NAMED = re.compile(r"\(\?P<\w+>")


def loose(pattern: re.Pattern[str]) -> str:
    """The pattern without what it asks of the text around, which Rust's grammar lacks, and without names."""
    text, kept, at = pattern.pattern, "", 0
    while at < len(text):
        if _LOOK.match(text, at):
            at = _closed(text, at)
            continue
        step = 2 if text[at] == "\\" else 1
        kept += text[at : at + step]
        at += step
    bare = _NAMED.sub("(?:", kept)
    return f"(?i:{bare})" if pattern.flags & re.IGNORECASE else bare


def _closed(text: str, at: int) -> int:
    """The place after the bracket that closes the one at a place."""
    depth, in_set = 0, False
    while True:
        mark = text[at]
        if mark == "\\":
            at += 1
        elif in_set:
            in_set = mark != "]"
        elif mark == "[":
            in_set = True
        else:
            depth += {"(": 1, ")": -1}.get(mark, 0)
        at += 1
        if mark == ")" and not depth and not in_set:
            return at
