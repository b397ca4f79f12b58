"""How fast a big inbox is read and cleaned.

    python tests/benchmarks/bench_clean.py [--rows 1000000] [--shop FOLDER]

Reads and cleans the text files of a shop of about so many rows (hours, purchases, pours, sales … with their mappings),
against DuckDB's own `read_csv(all_varchar)` on the same files in the same run. Each in its own process, for the most
memory it held.
"""

import argparse
import tempfile
from pathlib import Path

from bench_refresh import ROWS_PER_PIECE, measured


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--shop", type=Path, help="use, or make, the shop in this folder")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        shop = arguments.shop or Path(scratch) / "shop"
        if not shop.exists():
            from sample_data.make import make

            make(shop, pieces=round(arguments.rows / ROWS_PER_PIECE), years=3)
        ours, theirs = measured("clean", shop), measured("read", shop)
    print(f"{ours['rows']:,} rows")
    for name, found in (("read and clean", ours), ("read_csv", theirs)):
        print(f"  {name:15} cpu {found['cpu']:6.2f} s   wall {found['wall']:6.2f} s   {found['mb']:6.0f} MB")
    print(f"  ratio: {ours['cpu'] / theirs['cpu']:.1f} (cpu), {ours['wall'] / theirs['wall']:.1f} (wall)")


if __name__ == "__main__":
    main()
