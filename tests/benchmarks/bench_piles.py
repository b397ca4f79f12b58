"""How much of a stranger's pile of files is in the books at the first refresh, rightly, and without a question.

    python tests/benchmarks/bench_piles.py [--piles 12] [--seed 1] [--half tune] [--without "UBL 2.1"] [--show]

Random shops, each with up to 15 files in six languages and the names of four standards (`tests/piles/`), are read as
a refresh reads them, and each row is held against its truth. A 95 % interval by shop stands behind each share.
`--without` takes the words of a source or language out of `headers.csv` for the run: every header of the tests' own
list that belongs to it alone, and every row that names it. Failures of the half that is kept out (`--half kept`) are
counted and never shown; those of the tuning half are with `--show`.
"""

import argparse
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from pipeline import reference
from tests.piles.measure import Found, interval, measured, ratio
from tests.piles.pile import make
from tests.piles.words import HALVES, LANGUAGES, STANDARDS, words_of

BINS = ((0.0, 0.5), (0.5, 0.7), (0.7, 0.85), (0.85, 0.95), (0.95, 1.01))
SHOWN = 60


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--piles", type=int, default=12)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--half", choices=HALVES, default="tune")
    parser.add_argument("--without", choices=(*STANDARDS, *LANGUAGES))
    parser.add_argument("--only", choices=(*STANDARDS, *LANGUAGES), default="", help="all files in one source's words")
    parser.add_argument("--show", action="store_true")
    arguments = parser.parse_args()
    if arguments.without:
        leave_out(arguments.without)
    found = list(shops(arguments.seed, arguments.piles, arguments.half, arguments.only))
    report(found)
    if arguments.show and arguments.half == "tune":
        shown = {text.partition(": ")[0]: text for each in found for text in (*each.wrongs, *each.missed)}
        print(*list(shown.values())[:SHOWN], sep="\n")


def shops(seed: int, count: int, half: str, only: str) -> Iterator[Found]:
    """What was counted of each shop."""
    for number in range(count):
        with tempfile.TemporaryDirectory() as scratch:
            folder = Path(scratch) / "shop"
            yield measured(folder, make(folder, seed * 1000 + number, half, only))


def leave_out(source: str) -> None:
    """Take the words of one source out of what headers are known by."""
    gone = {reference.header_key(word) for word in words_of([source])}
    kept = {reference.header_key(word) for word in words_of({*STANDARDS, *LANGUAGES} - {source})}
    rows = reference.rows

    def without(name: str) -> tuple[dict[str, str], ...]:
        if name != "headers":
            return rows(name)
        return tuple(row for row in rows(name) if not _belongs(row, source, gone - kept))

    reference.rows = without  # type: ignore[assignment]
    for cached in (reference.synonyms, reference.header_key):
        cached.cache_clear()


def _belongs(row: dict[str, str], source: str, words: set[str]) -> bool:
    told = source in row["source"] or row.get("language") == source
    return row["record"] != "private" and (
        told or (bool(row["field"]) and reference.header_key(row["header"]) in words)
    )


def report(found: list[Found]) -> None:
    """Print what was counted, each share with its interval."""
    print(
        f"{len(found)} shops, {sum(f.files for f in found)} tables, {sum(f.columns for f in found)} columns,", end=" "
    )
    print(f"{sum(f.rows for f in found)} rows of records")
    _print("rows rightly loaded", ratio([(f.right, f.rows) for f in found]))
    _print("  loaded wrongly, and asked about", ratio([(f.asked, f.rows) for f in found]))
    _print("  loaded without something that is there", ratio([(len(f.missed), f.rows) for f in found]))
    _print("rows loaded wrongly without a question", ratio([(f.wrong, f.rows) for f in found]))
    _print("questions a table", ratio([(f.questions, f.files) for f in found]))
    offered = [each for f in found for each in f.offered]
    if offered:
        _print("the truth among the choices of a question", interval(map(float, offered)))
    print("sureness: said, true, columns")
    for low, high in BINS:
        pairs = [(said, right) for f in found for said, right in f.sure if low <= said < high]
        if pairs:
            said = sum(s for s, _ in pairs) / len(pairs)
            _print(f"  {said:6.1%}", interval([float(right) for _, right in pairs]), f"{len(pairs)}")


def _print(name: str, shares: tuple[float, float, float], more: str = "") -> None:
    mean, low, high = shares
    print(f"{name:45} {mean:7.2%}  ({low:.2%} to {high:.2%}) {more}")


if __name__ == "__main__":
    main()
