"""How long one more entry takes to stand in the figures, beside a refresh that works everything out.

    python tests/benchmarks/bench_entry.py [--shop DIR] [--entries 20]

In one process that has its libraries loaded and its plan read, as the dashboard's worker has: everything anew, nothing
changed, then entries by hand one after the other, four each of hours, purchases, pours, inspections and sales; five are
the first of a new day, one of a new month, one holds a word never seen. Printed for each: wall time, CPU of this
process, tables worked out, and the wall time as a share of all anew. At the end the size of the last file beside the
first, and whether its tables are those of a refresh from nothing.
"""

import argparse
import shutil
import statistics
import tempfile
import time
from datetime import date
from pathlib import Path

from pipeline import database
from pipeline.commands import main as command
from pipeline.database import digests
from pipeline.processes.workers import Workers, other_processes
from pipeline.refresh.refresh import refresh
from pipeline.shop import load
from tests.table_sets import differing

ENDS = date(2026, 12, 31)
HEADS = {
    "hours": "date,person,operation,hours,piece",
    "purchases": "date,supplier,item,category,quantity,unit,amount",
    "pours": "date,pour,purpose,resin,part_a,part_b,unit,piece",
    "inspections": "date,piece,defect,action",
    "sales": "date,channel,piece,quantity,price",
}
ENTRIES = (
    ("hours", "2026-10-31,Mara,sanding,0:30,P-0399"),
    ("hours", "2026-10-30,Mara,finishing,0:20,P-0398"),
    ("hours", "2026-11-01,Mara,sanding,1:00,P-0399"),  # a new month, a new day
    ("hours", "2026-11-02,Mara,burnishing,1:00,P-0399"),  # a new day, a word never seen
    ("purchases", "2026-10-20,Mill,coating resin,resin,1,l,30"),
    ("purchases", "2026-10-21,Mill,80 grit disc,abrasive,10,pc,9"),
    ("purchases", "2026-11-03,Mill,danish oil,finish,1,l,24"),  # a new day
    ("purchases", "2026-11-02,Mill,80 grit disc,abrasive,10,pc,9"),
    ("pours", "2026-10-30,R-90001,inlay,coating resin,30,30,ml,P-0398"),
    ("pours", "2026-10-29,R-90002,inlay,coating resin,20,20,ml,P-0397"),
    ("pours", "2026-11-04,R-90003,inlay,coating resin,30,30,ml,P-0398"),  # a new day
    ("pours", "2026-11-03,R-90004,inlay,coating resin,30,30,ml,P-0399"),
    ("inspections", "2026-10-31,P-0398,dent,rework"),
    ("inspections", "2026-10-30,P-0397,dent,rework"),
    ("inspections", "2026-11-05,P-0396,dent,rework"),  # a new day
    ("inspections", "2026-11-04,P-0395,dent,rework"),
    ("sales", "2026-10-31,market,P-0390,1,140"),
    ("sales", "2026-10-30,market,P-0391,1,120"),
    ("sales", "2026-11-05,market,P-0392,1,95"),
    ("sales", "2026-11-04,market,P-0393,1,180"),
)


def timed(folder: Path, other: Workers, anew: bool = False) -> tuple[float, float, int]:
    """Seconds of wall time and of this process's CPU, and how many rows are in the figures."""
    wall, cpu = time.perf_counter(), time.process_time()
    summary = refresh(load(folder), other=other, on=ENDS, anew=anew)
    if not summary.published:
        raise SystemExit("an entry broke the books")
    return time.perf_counter() - wall, time.process_time() - cpu, summary.counts["loaded"]


def made(folder: Path) -> int:
    """How many tables of the newest database were worked out, not taken over from the one before."""
    (_, new), (_, old) = database._numbered(folder / "database")[:2]
    told = []
    for path in (new, old):
        with database.open_published(path) as con:
            told.append(dict(con.execute(f"select name, made_from from {digests.TABLE}").fetchall()))
    return sum(told[1].get(table) != made_from for table, made_from in told[0].items())


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--shop", type=Path, help="a shop as the demo is; without it the demo is made")
    parser.add_argument("--entries", type=int, default=len(ENTRIES))
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch, other_processes() as other:
        folder = Path(scratch) / "shop"
        if asked.shop:
            shutil.copytree(asked.shop, folder)
        else:
            command(["demo", str(folder), "--no-show"])
        timed(folder, other, anew=True)
        whole, cpu, _ = timed(folder, other, anew=True)
        first = database.newest(folder)
        size = first.stat().st_size if first else 0
        print(f"{'all anew':12} {whole:6.2f} s  {cpu:6.2f} s CPU   {size / 2**20:.1f} MB")
        wall, cpu, rows = timed(folder, other)
        print(f"{'nothing':12} {wall:6.2f} s  {cpu:6.2f} s CPU   {wall / whole:.2f} of all anew")
        walls = []
        for record, row in ENTRIES[: asked.entries]:
            log = folder / "log" / f"{record}.csv"
            log.parent.mkdir(exist_ok=True)
            if not log.exists():
                log.write_text(HEADS[record] + "\n", encoding="utf-8")
            with log.open("a", encoding="utf-8") as file:
                file.write(row + "\n")
            wall, cpu, now = timed(folder, other)
            if now != rows + 1:
                raise SystemExit(f"{record}: {row} is not in the figures")
            rows = now
            walls.append(wall)
            print(f"{record:12} {wall:6.2f} s  {cpu:6.2f} s CPU   {wall / whole:.2f} of all anew, {made(folder)} made")
        if walls:
            middle = statistics.median(walls)
            print(f"{'median':12} {middle:6.2f} s                {middle / whole:.2f} of all anew")
        last = database.newest(folder)
        timed(folder, other, anew=True)
        fresh = database.newest(folder)
        if last and fresh:
            size = last.stat().st_size / fresh.stat().st_size
            print(f"the last file is {size:.2f} of a fresh one; tables that differ: {differing(last, fresh) or 'none'}")


if __name__ == "__main__":
    main()
