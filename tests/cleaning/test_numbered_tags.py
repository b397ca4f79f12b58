"""Pours that nobody tagged are each a pour of its own. That they are logged so: common practice, no source."""

from pathlib import Path

import duckdb

from pipeline import database
from pipeline.refresh.refresh import refresh
from pipeline.shop import load

POURS = "Date,Piece,Resin,Part A g,Part B g\n{rows}"
ROWS = ("2026-02-03,T-1,epoxy,400,200\n", "2026-02-03,T-1,epoxy,300,150\n", "2026-02-03,T-2,epoxy,100,50\n")


def poured(con: duckdb.DuckDBPyConnection) -> list[tuple[object, ...]]:
    return con.execute("select pour, part_a_mg, part_b_mg from work.pour order by pour").fetchall()


def test_each_row_is_a_pour_of_its_own_and_the_same_in_another_file(tiny_shop: Path) -> None:
    inbox = tiny_shop / "inbox"
    inbox.joinpath("pieces.csv").write_text("piece,product,started\nT-1,tray,2026-02-01\nT-2,tray,2026-02-01\n")
    inbox.joinpath("pours.csv").write_text(POURS.format(rows="".join(ROWS)))
    day = "2026-02-03"
    expected = [(f"{day}-T-1", 400_000, 200_000), (f"{day}-T-1-2", 300_000, 150_000), (f"{day}-T-2", 100_000, 50_000)]
    refresh(load(tiny_shop))
    with database.open_newest(tiny_shop) as con:
        assert poured(con) == expected
    # an export of the year holds those of the month, and one more
    later = "2026-03-04,T-2,epoxy,50,25\n"
    inbox.joinpath("pours of the year.csv").write_text(POURS.format(rows="".join((*ROWS, later))))
    refresh(load(tiny_shop))
    with database.open_newest(tiny_shop) as con:
        assert poured(con) == [*expected, ("2026-03-04-T-2", 50_000, 25_000)]
