"""The way of every published example: input files into a shop folder, a whole refresh, the published database."""

from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path

import pytest

from tests.refreshed import AsAsked


@pytest.fixture
def books(tmp_path: Path) -> Iterator[Callable[..., AsAsked]]:
    """`books(toml, purchases="date,item,…")` → the published database of a shop with just these files, read-only.

    No row may be set aside: an example must go in whole.
    """
    opened: list[AsAsked] = []
    numbers = count(1)

    def publish(toml: str, **records: str) -> AsAsked:
        folder = tmp_path / f"shop-{next(numbers)}"
        (folder / "inbox").mkdir(parents=True)
        (folder / "shop.toml").write_text(toml, encoding="utf-8")
        for record, text in records.items():
            (folder / "inbox" / f"{record}.csv").write_text(text, encoding="utf-8")
        con = AsAsked(folder)
        opened.append(con)
        assert con.execute("from intake.rejected").fetchall() == []
        assert con.execute("from intake.unlinked").fetchall() == []
        assert con.execute("select file from intake.file where how <> 'canonical'").fetchall() == []
        return con

    yield publish
    for con in opened:
        con.close()
