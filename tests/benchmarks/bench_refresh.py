"""How long a refresh takes, and how that grows.

    python tests/benchmarks/bench_refresh.py [--rows 10000 100000 1000000] [--keep FOLDER]

First the demo, from the start of the process. Then shops of about so many rows: everything worked out anew, with the
time of each stage, the size of the database, and how the time grows with the rows (the exponent b of
time = a * rows ** b between two sizes); and in one warm process a refresh where nothing changed, and one after one more
entry. Of the largest shop also everything anew while DuckDB may hold no more than `LIMIT` of memory: it may spill to
the disk, and may not fail. Beside it, on the same files in the same run:

- the floor: DuckDB reads the text files as text and writes them to a database, each into a table of its own;
- the core in pandas (`pandas_core.py`), beside our models up to `cost.piece`; both start from the cleaned records. It
  leaves out most of what the core does: counts, what receipts lack, goods sent back, salvage, offcuts, rework beyond
  what is normal, spoilage, estimated work, pools by month and rate, and which record paid for which cents.

Each measure runs in a process of its own. `cpu` is user and system time of all threads, `wall` that of the clock; where
a machine does other work too, only `cpu` says something. A million rows take some minutes and some gigabytes.
"""

import argparse
import json
import math
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

TEXT = (".csv", ".tsv", ".txt")
LIMIT = "1GB"
ENTRY = ("hours", "date,person,operation,hours,piece", "2026-10-31,Mara,sanding,0:30,P-0399")
ROWS_PER_PIECE = 21.5  # of a shop that sample_data.make makes


def text_files(folder: Path) -> list[Path]:
    return sorted(p for p in (folder / "inbox").rglob("*") if p.suffix in TEXT)


def refresh(folder: Path) -> dict[str, Any]:
    from pipeline.processes.workers import other_processes

    with other_processes() as other:  # as the command does it
        from pipeline.refresh.refresh import refresh as run
        from pipeline.shop import load

        summary = run(load(folder), other=other, anew=True)
    found = {"stages": summary.seconds, "rows": summary.counts["rows"], "published": str(summary.published or "")}
    return found | ({"file_mb": summary.published.stat().st_size / 1e6} if summary.published else {})


def limited(folder: Path) -> dict[str, Any]:
    """A refresh from nothing with no more than `LIMIT` of memory for DuckDB."""
    import duckdb

    connect = duckdb.connect

    def within(*given: Any, config: dict[str, Any] | None = None, **rest: Any) -> duckdb.DuckDBPyConnection:
        return connect(*given, config={"memory_limit": LIMIT} | (config or {}), **rest)

    duckdb.connect = within
    return refresh(folder)


def again(folder: Path) -> dict[str, Any]:
    """In one process: a refresh where nothing changed, then one after one more entry by hand, which goes again."""
    from pipeline.processes.workers import other_processes
    from pipeline.refresh.refresh import refresh as run
    from pipeline.shop import load

    name, head, row = ENTRY
    log = folder / "log" / f"{name}.csv"
    before = log.read_text(encoding="utf-8") if log.exists() else None
    found: dict[str, Any] = {}
    with other_processes() as other:
        run(load(folder), other=other)  # what reads and plans for the first time
        try:
            for what in ("nothing", "entry"):
                if what == "entry":
                    log.parent.mkdir(exist_ok=True)
                    log.write_text((before or head + "\n") + row + "\n", encoding="utf-8")
                cpu, wall = time.process_time(), time.perf_counter()
                summary = run(load(folder), other=other)
                found[what] = {"cpu": time.process_time() - cpu, "wall": time.perf_counter() - wall}
                found[what]["worked_out"] = not summary.unchanged  # of nothing only where an estimate failed
        finally:
            log.unlink(missing_ok=True) if before is None else log.write_text(before, encoding="utf-8")
    return found


def floor(folder: Path) -> dict[str, Any]:
    import duckdb

    with tempfile.TemporaryDirectory() as home, duckdb.connect(f"{home}/floor.duckdb") as con:
        for number, file in enumerate(text_files(folder)):
            # a few lines of these files are broken on purpose
            options = "all_varchar = true, ignore_errors = true, null_padding = true, strict_mode = false"
            con.execute(f"create table t{number} as from read_csv('{file}', {options})")
        con.execute("checkpoint")
    return {}


def bare(folder: Path) -> dict[str, Any]:
    import duckdb

    for file in text_files(folder):
        duckdb.sql(f"from read_csv('{file}', all_varchar = true, ignore_errors = true)").fetchall()
    return {}


def read(folder: Path) -> dict[str, Any]:
    """DuckDB's reader over all cells of the text files, nothing kept."""
    import duckdb

    con = duckdb.connect()
    cpu, wall = time.process_time(), time.perf_counter()
    for number, file in enumerate(text_files(folder)):
        options = "all_varchar = true, ignore_errors = true, null_padding = true, strict_mode = false"
        con.execute(f"create temp table t{number} as from read_csv('{file}', {options})")
    return {"cpu": time.process_time() - cpu, "wall": time.perf_counter() - wall}


def clean(folder: Path) -> dict[str, Any]:
    """Our readers, mappings and cleaning over the same text files."""
    from pipeline import mapping, readers
    from pipeline.cleaning import clean as cleaned
    from pipeline.proposing import suggestion
    from pipeline.shop import load

    shop = load(folder)
    mappings = mapping.load(shop.path("mappings"))
    cpu, wall, rows = time.process_time(), time.perf_counter(), 0
    for file in text_files(folder):
        name = file.relative_to(folder).as_posix()
        for table in readers.read(file):
            how = suggestion.choose(mappings, name.removeprefix("inbox/"), table, shop)
            if how and how.record:
                found = cleaned(table, how, shop, name)
                rows += found.frame.height + found.rejected.height
    return {"cpu": time.process_time() - cpu, "wall": time.perf_counter() - wall, "rows": rows}


def core(folder: Path) -> dict[str, Any]:
    """Our models up to `cost.piece`, over the records of the newest database."""
    import duckdb

    from pipeline import database, tables
    from pipeline.database.plan import read_plan
    from pipeline.database.run import make_table, prepare

    con = duckdb.connect(str(folder / "core.duckdb"))
    con.execute(f"attach '{database.newest(folder)}' as done (read_only)")
    con.execute("begin")
    database.create_given(con)
    for table in tables.given_tables():
        con.execute(f"insert into {table} by name from done.{table}")
    plan = read_plan()
    prepare(con, plan)
    wanted = {"cost.piece"}
    for model in reversed(plan.models.values()):
        if model.table in wanted:
            wanted |= model.inputs
    cpu, wall = time.process_time(), time.perf_counter()
    for model in plan.models.values():
        if model.table in wanted:
            make_table(con, model)
    found = {"cpu": time.process_time() - cpu, "wall": time.perf_counter() - wall}
    con.close()
    (folder / "core.duckdb").unlink()
    return found


def pandas(folder: Path) -> dict[str, Any]:
    import duckdb
    from pandas_core import cost_per_piece

    from pipeline import database

    with duckdb.connect(str(database.newest(folder)), read_only=True) as con:
        names = [f"records.{n}" for n in ("purchases", "pieces", "hours", "hours_piece", "pours", "usage")]
        frames = {
            n.partition(".")[2]: con.sql(f"from {n}").df() for n in (*names, "settings.person_rate", "settings.item")
        }
    # as pandas reads numbers with gaps from a file
    plain = {n: f.astype({c: "float64" for c, t in f.dtypes.items() if str(t) == "Int64"}) for n, f in frames.items()}
    cpu, wall = time.process_time(), time.perf_counter()
    cost_per_piece(plain)
    return {"cpu": time.process_time() - cpu, "wall": time.perf_counter() - wall}


MEASURES: dict[str, Callable[[Path], dict[str, Any]]] = {
    m.__name__: m for m in (refresh, limited, again, floor, bare, read, clean, core, pandas)
}


def measured(name: str, folder: Path) -> dict[str, Any]:
    """What the measure found in a process of its own, with `cpu`, `wall` and `mb`, the most memory it held."""
    begin = time.perf_counter()
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run([sys.executable, __file__, "--only", name, str(folder)], capture_output=True, text=True)
    if done.returncode:
        raise SystemExit(done.stderr)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return {"cpu": cpu, "wall": time.perf_counter() - begin} | json.loads(done.stdout.splitlines()[-1])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, nargs="*", default=[10_000, 100_000, 1_000_000])
    parser.add_argument("--keep", type=Path, help="make the shops here, and leave them")
    parser.add_argument("--only", choices=MEASURES, help=argparse.SUPPRESS)
    parser.add_argument("folder", type=Path, nargs="?", help=argparse.SUPPRESS)
    arguments = parser.parse_args()
    if arguments.only:
        found = MEASURES[arguments.only](arguments.folder)
        print(json.dumps({"mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024} | found))
        return
    with tempfile.TemporaryDirectory() as scratch:
        home = arguments.keep or Path(scratch)
        compare(home, arguments.rows)


def compare(home: Path, sizes: list[int]) -> None:
    from sample_data.make import make

    home.mkdir(parents=True, exist_ok=True)
    demo = home / "demo"
    if not demo.exists():
        make(demo)
    for name in ("refresh", "bare"):
        found = measured(name, demo)
        print(
            f"demo {name:8} cpu {found['cpu']:6.2f} s   wall {found['wall']:6.2f} s   {found['mb']:5.0f} MB", flush=True
        )
    before: tuple[int, float] | None = None
    for size in sizes:
        shop = home / f"rows-{size}"
        if not shop.exists():
            make(shop, pieces=round(size / ROWS_PER_PIECE), years=3)
        found = {name: measured(name, shop) for name in ("refresh", "floor", "core", "pandas")}
        if size == max(sizes):
            found["limited"] = measured("limited", shop)
        whole, more = found["refresh"], measured("again", shop)
        print(f"\n{whole['rows']:,} rows" + ("" if whole["published"] else "   NOT PUBLISHED: a check failed"))
        for name, figures in found.items():
            print(f"  {name:8} cpu {figures['cpu']:7.2f} s   wall {figures['wall']:7.2f} s   {figures['mb']:6.0f} MB")
        for what in ("nothing", "entry"):
            how = "worked out" if more[what]["worked_out"] else "seen to be as it was"
            print(f"  {what:8} cpu {more[what]['cpu']:7.2f} s   wall {more[what]['wall']:7.2f} s   warm, {how}")
        print(f"  database {whole.get('file_mb', 0):7.1f} MB")
        print("  stages  ", ", ".join(f"{stage} {seconds:.2f}" for stage, seconds in whole["stages"].items()))
        for over, under in (("refresh", "floor"), ("pandas", "core")):
            ratios = ", ".join(f"{found[over][clock] / found[under][clock]:.1f} ({clock})" for clock in ("cpu", "wall"))
            print(f"  {over} / {under}: {ratios}", flush=True)
        if before:
            exponent = math.log(whole["cpu"] / before[1]) / math.log(whole["rows"] / before[0])
            print(f"  exponent since {before[0]:,} rows: {exponent:.2f} (cpu)", flush=True)
        before = whole["rows"], whole["cpu"]


if __name__ == "__main__":
    main()
