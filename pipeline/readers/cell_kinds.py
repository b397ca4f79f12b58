"""What a cell's text looks like. Used to judge a way of reading only; the text itself is never changed."""

import functools
import re

_MONTHS = "jan feb mar apr may jun jul aug sep oct nov dec mär mai okt dez janv févr mars avr juin juil août sept déc"
_MONTH = rf"(?:{_MONTHS.replace(' ', '|')})[a-zé]*\.?"
_FIGURES = r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}\.?|\d{4}-\d{2}"
_DATE = rf"(?:{_FIGURES}|\d{{1,2}}\.? ?-?{_MONTH},? ?-?\d{{2,4}}|{_MONTH} \d{{1,2}},? \d{{4}})"
_TIME = r"(?:\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?(?: ?[ap]\.?m\.?)?(?:Z| ?[+-]\d{2}:?\d{2})?|\d{1,3} ?h ?\d{0,2})"
_NUMBER = r"(?:\d{1,3}(?:[,.  '’_]\d{3})+(?:[.,]\d+)?|\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?"
_CURRENCY = r"(?:[$€£¥]|US\$|[A-Z]{3}|kr\.?|zł|Fr\.?)"
# a word before a percentage is no currency: VAT 20% heads a column
_AMOUNT = rf"[-+(]?\s?(?:(?:{_CURRENCY}\s?)?[-+]?{_NUMBER}\s?{_CURRENCY}?|[-+]?{_NUMBER}\s?%)\)?-?"

NUMBER = re.compile(_AMOUNT, re.IGNORECASE)
TIME = re.compile(rf"(?:{_DATE}(?:T|,?\s+){_TIME}|{_DATE}|{_TIME})", re.IGNORECASE)
ADDRESS = re.compile(r"(?:https?://|www\.|ftp://|mailto:)\S+|[\w.+-]+@[\w-]+(?:\.[\w-]+)+")
NOTHING = re.compile(r"(?:n/?a|nan|null|none|nil|tbd|tba|#n/a|\?+|-+|–|—|\.+|x)", re.IGNORECASE)
# one or more words with the punctuation of plain prose, but no dangling delimiter at either end
PLAIN = re.compile(r"[\w(#&+°§@*.'’-][^\t|;\"\x00-\x1f]*[\w).!?%+°'’\"*-]|\w|#")
PROSE = re.compile(r"[\w(#&][^\t\x00-\x08]*[\w).!?%°]", re.DOTALL)


@functools.lru_cache(100_000)
def kind_of(text: str) -> str:
    """One of: empty, number, time (dates too), address, nothing (n/a, -), plain (words), prose, odd."""
    text = text.strip()
    if not text:
        return "empty"
    if NUMBER.fullmatch(text):
        return "number"
    if TIME.fullmatch(text):
        return "time"
    if NOTHING.fullmatch(text):
        return "nothing"
    if ADDRESS.fullmatch(text):
        return "address"
    if PLAIN.fullmatch(text):
        return "plain"
    return "prose" if PROSE.fullmatch(text) else "odd"
