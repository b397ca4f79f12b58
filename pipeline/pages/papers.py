"""The paper behind a row: a PDF or picture of the inbox that has the number of the row's receipt in its name."""

import re
from collections.abc import Iterable
from pathlib import Path

from pipeline.errors import UserError
from pipeline.readers import PAPERS
from pipeline.shop import Shop
from pipeline.shop.contents import contents
from pipeline.writing import whole

_DAY = re.compile(
    r"(?<!\d)(?:(?:19|20)\d\d[-_. ]?(?:0[1-9]|1[0-2])[-_. ]?(?:0[1-9]|[12]\d|3[01])"
    r"|(?:0[1-9]|[12]\d|3[01])[-_. ](?:0[1-9]|1[0-2])[-_. ](?:19|20)\d\d)(?!\d)"
)
"""A day in a file's name, which no receipt's number is found in, but one that has such a day itself."""
_SHORTEST = 3
"""Letters and digits of a receipt number below which any file could have it in its name."""


def papers(shop: Shop, rows: Iterable[tuple[str | None, str | None, str | None]]) -> list[str]:
    """The papers of rows, each given as its receipt, its supplier and its file; as paths in the shop folder.

    Where several have a receipt's number, those that name its supplier too come alone.
    """
    known = [path.relative_to(shop.folder).as_posix() for path in contents(shop.path("inbox")).files if _is_paper(path)]
    found: dict[str, None] = {}
    for receipt, supplier, file in rows:
        if file in known:
            found[file] = None
        number = _parts(receipt or "")
        if sum(map(len, number)) < _SHORTEST:
            continue
        dated = _DAY.search(receipt or "")
        stems = {name: Path(name).stem if dated else _DAY.sub(" ", Path(name).stem) for name in known}
        fitting = [name for name in known if _holds(_parts(stems[name]), number)]
        of_supplier = [name for name in fitting if {*_parts(supplier or "")} & {*_parts(name)}]
        found |= dict.fromkeys(of_supplier or fitting)
    return list(found)


def paper(shop: Shop, name: str) -> bytes:
    """What a paper of the inbox holds. `UserError` where there is none of that name."""
    known = {path.relative_to(shop.folder).as_posix(): path for path in contents(shop.path("inbox")).files}
    path = known.get(name)
    if path is None or not _is_paper(path) or not path.resolve().is_relative_to(shop.folder.resolve()):
        raise UserError("This paper is not in the inbox any more.", name, "Put it there again.")
    with whole.refusals_told(path):
        return path.read_bytes()


def _is_paper(path: Path) -> bool:
    return path.suffix.lower() in PAPERS


def _parts(text: str) -> list[str]:
    return re.findall(r"[^\W_]+", text.casefold())


def _holds(parts: list[str], number: list[str]) -> bool:
    return any(parts[at : at + len(number)] == number for at in range(len(parts)))
