"""Bytes into text, whatever a spreadsheet or a till wrote."""

import codecs
from dataclasses import dataclass

# an encoding's mark at the start of a file, longest first: the mark of UTF-16 LE begins that of UTF-32 LE
_MARKS = (
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


@dataclass(frozen=True)
class Decoded:
    """`data` is UTF-8 without a mark; `encoding` is the one found; `marked` says whether the file named it."""

    data: bytes
    encoding: str
    marked: bool


def decode(raw: bytes) -> Decoded:
    """The text of a file as UTF-8. Never fails: a byte that fits nothing is read as Windows-1252, then Latin-1."""
    for mark, encoding in _MARKS:
        if raw.startswith(mark):
            rest = raw[len(mark) :]
            if encoding == "utf-8":
                if _is_utf8(rest):
                    return Decoded(rest, encoding, True)
                break
            return Decoded(rest.decode(encoding, errors="replace").encode(), encoding, True)
    wide = _unmarked_utf16(raw)
    if wide:
        return Decoded(raw.decode(wide, errors="replace").encode(), wide, False)
    if _is_utf8(raw):
        return Decoded(raw, "ascii" if raw.isascii() else "utf-8", False)
    try:
        return Decoded(raw.decode("cp1252").encode(), "windows-1252", False)
    except UnicodeDecodeError:
        # five bytes have no meaning in Windows-1252; Latin-1 gives every byte one
        return Decoded(raw.decode("latin-1").encode(), "latin-1", False)


def _is_utf8(raw: bytes) -> bool:
    if raw.isascii():
        return True
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def _unmarked_utf16(raw: bytes) -> str:
    """Western text in UTF-16 has a zero in every second byte, on one side only."""
    head = raw[: 4096 - 4096 % 2]
    half = len(head) // 2
    if half < 2 or len(raw) % 2:
        return ""
    even, odd = head[0::2].count(0), head[1::2].count(0)
    if odd > 0.7 * half and even < 0.05 * half:
        return "utf-16-le"
    if even > 0.7 * half and odd < 0.05 * half:
        return "utf-16-be"
    return ""
