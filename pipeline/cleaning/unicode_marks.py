"""Digits, signs, spaces and punctuation of all scripts in the usual form, before any grammar reads a number or a date.

Decimal digits of every script (Unicode category Nd) become 0 to 9, full-width forms their plain ones, and the Arabic
decimal and thousands marks say what they mean. A text field keeps its text as written.
"""

import re
import unicodedata

import polars as pl

KEPT = ("text", "word", "unit")
"""Kinds of field that are no numbers, dates or tags: words have their own folding."""

_UNUSUAL = r"[^\x00-\x7f]"
_MINUS = "−﹣－‐‑"
_OTHERS = {
    "／": "/",
    "∕": "/",
    "∶": ":",
    "،": ",",
    "、": ",",
    "؛": ";",
    "٪": "%",
    "﹪": "%",
    "￥": "¥",
    "￡": "£",
    "￦": "₩",
}
_DECIMAL, _THOUSANDS = "٫", "٬"


class _Usual(dict[int, str]):
    """Every character → its usual form, each looked up once in Python's own Unicode tables."""

    def __missing__(self, code: int) -> str:
        character = chr(code)
        category = unicodedata.category(character)
        self[code] = found = (
            str(unicodedata.decimal(character))
            if category == "Nd"
            else " "
            if category == "Zs"
            else chr(code - 0xFEE0)
            if 0xFF01 <= code <= 0xFF5E
            else character
        )
        return found


_TABLE = _Usual({ord(c): "-" for c in _MINUS} | {ord(c): plain for c, plain in _OTHERS.items()})


def usual(text: str) -> str:
    """`１２３` → `123`, `١٬٢٣٤٫٥` → `1234.5`, `−5` → `-5`."""
    text = text.translate(_TABLE)
    text = re.sub(rf"(?<=[0-9]){_THOUSANDS}(?=[0-9])", "", text)
    # three digits behind a point could be thousands to a grammar; this mark never means that
    return re.sub(rf"{_DECIMAL}([0-9]*)", lambda m: f".{m[1]}0" if len(m[1]) == 3 else f".{m[1]}", text)


def in_usual_marks(texts: pl.Series) -> pl.Series:
    """The texts in their usual form; the very same series where nothing is unusual."""
    odd = texts.filter(texts.str.contains(_UNUSUAL)).unique()
    turned = [(text, usual(text)) for text in odd]
    changed = {text: plain for text, plain in turned if plain != text}
    return texts.replace(changed) if changed else texts
