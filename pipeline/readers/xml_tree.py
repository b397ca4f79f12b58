"""XML (W3C, 1.0) as a tree of elements that know their line; without document types, so without entities of its own.

What a file could fetch, or blow up to, is told in a document type: a file that has one is refused.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from pathlib import Path
from xml.parsers import expat

from pipeline.errors import UserError
from pipeline.readers.limits import NESTING

ELEMENTS = 1_000_000
MOST_DIGITS = 12
_CHUNK = 2**20


@dataclass(slots=True)
class Element:
    """An element: its name without namespace, its line (from 1), attributes, text of its own, and what it holds."""

    name: str
    line: int
    attributes: dict[str, str]
    text: str = ""
    children: list["Element"] = field(default_factory=list)

    def all(self, path: str) -> Iterator["Element"]:
        """The elements at a path of names, `Ntry/Amt`, in the order of the file."""
        first, _, rest = path.partition("/")
        for child in self.children:
            if child.name == first:
                if rest:
                    yield from child.all(rest)
                else:
                    yield child

    def first(self, *paths: str) -> "Element | None":
        """The first element at the first of these paths that leads to one."""
        return next((found for path in paths for found in self.all(path)), None)

    def said(self, *paths: str) -> str:
        """The text at the first of these paths that holds any; "" where none does. White space counts once."""
        texts = (" ".join(found.text.split()) for path in paths for found in self.all(path))
        return next(filter(None, texts), "")

    @property
    def number(self) -> Decimal | None:
        """The number that is its text; None where it is none, or none that anybody would be owed."""
        try:
            value = Decimal(self.text.strip())
        except InvalidOperation:
            return None
        if not value.is_finite():
            return None
        # by its digits: 1e999999999 is a few letters here, and would be a gigabyte written out
        smallest = int(value.as_tuple().exponent)
        return value if value.adjusted() < MOST_DIGITS and smallest > -MOST_DIGITS else None


def parse(data: bytes, path: Path) -> Element:
    """The root of an XML file. `UserError`, with the line, for what is none, has a document type, or is endless."""
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True
    top = Element("", 0, {})
    open_, count = [top], 0
    texts: list[list[str]] = [[]]

    def where() -> str:
        return f"{path}, line {parser.CurrentLineNumber}"

    def begins(name: str, attributes: dict[str, str]) -> None:
        nonlocal count
        count += 1
        if count > ELEMENTS or len(open_) > NESTING:
            raise UserError("The XML file holds more than any statement or invoice.", where(), "Split it by month.")
        # the namespace of an attribute or element says which version it is of: they are read alike
        own = {key.rpartition(" ")[2]: value for key, value in attributes.items()}
        made = Element(name.rpartition(" ")[2], parser.CurrentLineNumber, own)
        open_[-1].children.append(made)
        open_.append(made)
        texts.append([])

    def ends(_: str) -> None:
        held = texts.pop()
        ended = open_.pop()
        # a file put into the invoice (EN 16931, BT-125) is nobody's text
        ended.text = "" if "mimeCode" in ended.attributes else "".join(held)

    def holds(text: str) -> None:
        texts[-1].append(text)

    def refuses(*_: object) -> None:
        mend = "Statements and invoices have none: get the file anew from who made it."
        raise UserError("The XML file has a document type, and is not read.", where(), mend)

    parser.StartElementHandler, parser.EndElementHandler = begins, ends
    parser.CharacterDataHandler, parser.StartDoctypeDeclHandler = holds, refuses
    try:
        for at in range(0, len(data), _CHUNK):
            parser.Parse(data[at : at + _CHUNK], False)
        parser.Parse(b"", True)
    except (expat.ExpatError, ValueError, LookupError) as error:  # the latter two: an encoding that nobody knows
        raise UserError(f"That is no XML: {error}.", where(), "Get the file anew from who made it.") from None
    return top.children[0]
