"""What the maker has settled of other tables: a header that was said to be a field there is likely the same here."""

from collections.abc import Iterable, Mapping

from pipeline.mapping import Mapping as FileMapping
from pipeline.reference import header_key

Taught = Mapping[str, frozenset[tuple[str, str]]]
"""Header, as it is compared → the records and fields that it was settled as; "" = of no use."""

SAME, ALIKE, OTHER = 6.0, 3.2, -4.0
"""It was settled as this field of this record; as the field of this name of another; as another field of this one."""


def taught_by(mappings: Iterable[FileMapping]) -> Taught:
    """What the mappings of a shop say of headers."""
    found: dict[str, set[tuple[str, str]]] = {}
    for how in mappings:
        if not how.record:
            continue
        for field, header in how.columns.items():
            found.setdefault(header_key(header), set()).add((how.record, field))
        for header in how.left_out:
            found.setdefault(header_key(header), set()).add((how.record, ""))
    return {header: frozenset(said) for header, said in found.items()}


def weight(taught: Taught, header: str, record: str, field: str, known: float) -> float:
    """How strongly a header speaks for a field ("" = for none) by what was settled elsewhere, beside what is `known`
    of it; what was settled in two ways says nothing."""
    said = taught.get(header_key(header), frozenset()) if taught and header.strip() else frozenset()
    here = {name for of, name in said if of == record}
    if len(here) == 1:
        return max(known, SAME) if field in here else min(known, OTHER) if field else known
    elsewhere = {name for _, name in said}
    return max(known, ALIKE) if not here and elsewhere == {field} else known
