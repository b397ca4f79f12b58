"""How long each model takes, and how much of it is the plan that DuckDB makes before it reads a row.

    python tests/benchmarks/bench_models.py DIR [--threads 2] [--most 25]

Every model is made anew, one after the other, over the given tables of the shop's newest database; `planned` is the
time of the same model over no rows at all. The per cent are the model's part of the time of all.
"""

import argparse
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb

from pipeline import database, tables
from pipeline.database.plan import read_plan
from pipeline.database.run import make_table, prepare


def times(newest: Path, threads: int, filled: bool) -> dict[str, float]:
    with drafted(newest, threads, filled) as con:
        found = {}
        for name, model in read_plan().models.items():
            begin = time.perf_counter()
            make_table(con, model)
            found[name] = time.perf_counter() - begin
    return found


@contextmanager
def drafted(newest: Path, threads: int, filled: bool) -> Iterator[duckdb.DuckDBPyConnection]:
    """A database in memory with the given tables, and their rows if `filled`."""
    with duckdb.connect(config={"threads": threads}) as con:
        con.execute(f"attach '{newest}' as done (read_only)")
        database.create_given(con)
        if filled:
            for table in tables.given_tables():
                con.execute(f"insert into {table} by name from done.{table}")
        prepare(con, read_plan())
        yield con


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path, help="a shop that has been refreshed")
    parser.add_argument("--threads", type=int, default=2)
    parser.add_argument("--most", type=int, default=25)
    arguments = parser.parse_args()
    newest = database.newest(arguments.folder)
    if not newest:
        raise SystemExit(f"Nothing is published in {arguments.folder}: refresh it first.")
    full, planned = (times(newest, arguments.threads, filled) for filled in (True, False))
    whole = sum(full.values())
    print(f"{len(full)} models: {whole:.2f} s, of which {sum(planned.values()):.2f} s over no rows")
    for name in sorted(full, key=full.__getitem__, reverse=True)[: arguments.most]:
        kind = "estimate" if read_plan().models[name].node else "SQL"
        print(f"  {name:32} {full[name]:7.3f} s   planned {planned[name]:6.3f} s   {full[name] / whole:5.1%}   {kind}")


if __name__ == "__main__":
    main()
