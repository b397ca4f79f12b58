"""Which table of a shop's files lists its pieces."""

from typing import NamedTuple


class ListOfPieces(NamedTuple):
    """The table that lists a shop's pieces (its file below `inbox/`, its sheet), and their tags as they are compared
    with others (`cleaning.recurring`)."""

    file: str
    sheet: str
    tags: frozenset[str]
