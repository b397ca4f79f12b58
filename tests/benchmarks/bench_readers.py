"""How right and how fast the readers are.

    python tests/benchmarks/bench_readers.py [--rows 1000000]

First the share of spoilt files that come back whole, per way of spoiling; then the time for clean files of so many
rows in all, against DuckDB's own `read_csv(all_varchar)` on the same files in the same run, and the memory it took.
"""

import argparse
import resource
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path

import duckdb

sys.path.insert(0, str(Path(__file__).parents[1] / "readers"))

from pollutions import WAYS, Polluted, clean_table, marks, other_delimiter, other_tables, rows
from pollutions import lines as line_ends
from scoring import score

from pipeline.readers import read

FILES = 4
HEADER = "date,operation,hours,person,pieces,machine,note,amount\n"


def spoilt() -> Iterator[tuple[str, Polluted]]:
    for way in WAYS:
        yield from ((p.group, p) for p in way(clean_table()))
    for name, table in other_tables().items():
        places = (0, 1, len(table) // 2, len(table) - 1)
        for polluted in (*marks(table), *line_ends(table), *rows(table, places), *other_delimiter(table, places)):
            yield f"{name}: {polluted.group}", polluted


def rightness() -> None:
    found: dict[str, list[tuple[bool, float]]] = defaultdict(list)
    for group, polluted in spoilt():
        found[group].append(score(polluted))
    print(f"{'way of spoiling':36} {'files':>6} {'whole':>7} {'of 10':>7}")
    for group, scores in found.items():
        _print(group, scores)
    everything = [entry for scores in found.values() for entry in scores]
    _print("all files", everything)
    means = [sum(points for _, points in scores) / len(scores) for scores in found.values()]
    print(f"{'all ways weighed alike':36} {'':6} {'':7} {sum(means) / len(means):7.3f}")


def _print(group: str, scores: list[tuple[bool, float]]) -> None:
    whole = sum(exact for exact, _ in scores) / len(scores)
    print(f"{group:36} {len(scores):6} {whole:7.3f} {sum(points for _, points in scores) / len(scores):7.3f}")


def clean_files(folder: Path, count: int, stray: bool) -> list[Path]:
    paths = []
    for number in range(FILES):
        path = folder / f"hours {number}{' stray' if stray else ''}.csv"
        note = ['"second coat, nice"', "", "", "dusty", "", "", ""]
        with path.open("w") as out:
            out.write(HEADER)
            for i in range(count // FILES):
                text = 'a 5" clamp' if stray and i % 1000 == 999 else note[i % 7]
                day = f"2026-{1 + i % 12:02d}-{1 + i % 28:02d}"
                out.write(f"{day},sanding,{i % 9}.5,owner,T-{i:06d},router,{text},{i % 999}.{i % 100:02d}\n")
        paths.append(path)
    return paths


def timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def speed(count: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        for stray in (False, True):
            paths = clean_files(Path(folder), count, stray)
            ours = min(timed(lambda paths=paths: [read(p)[0].frame.height for p in paths]) for _ in range(3))
            theirs = min(timed(lambda paths=paths: [_duckdb(p) for p in paths]) for _ in range(3))
            kind = "with stray quotes" if stray else "in order"
            figures = f"{ours:.2f} s; read_csv {theirs:.2f} s; {ours / theirs:.1f} times"
            print(f"{count:,} rows in {FILES} files {kind}: {figures}")
    print(f"most memory held: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20:.2f} GB")


def _duckdb(path: Path) -> None:
    with duckdb.connect() as con:
        con.execute(f"create table t as select * from read_csv('{path}', all_varchar = true)")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, default=1_000_000)
    count = parser.parse_args().rows
    speed(count)
    rightness()


if __name__ == "__main__":
    main()
