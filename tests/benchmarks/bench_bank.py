"""How a bank's lines find the records that they pay, over invented shops whose truth is known.

python tests/benchmarks/bench_bank.py [--shops 400] [--first 1000]
"""

import argparse
from random import Random

from pipeline.estimates.twins import twins
from tests.estimates.bank_files import Links, draw_bank


def main() -> None:
    """Print the counts."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--shops", type=int, default=400)
    parser.add_argument("--first", type=int, default=1000)
    asked = parser.parse_args()
    links = Links()
    for seed in range(asked.first, asked.first + asked.shops):
        bank = draw_bank(Random(seed))
        links.add(bank, twins(bank.tables()))
    print(f"{links.lines:,} lines of {asked.shops} banks, seeds from {asked.first}")
    for name, count, of in (
        ("linked without a question", links.sure, links.lines),
        ("asked about", links.asked, links.lines),
        ("not linked", links.none, links.lines),
        ("without a question, other money", links.other_money, links.sure),
        ("without a question, other rows", links.other_rows, links.sure),
    ):
        print(f"  {name:34} {count:>8,}  {100 * count / max(1, of):.3f} %")
    exact = sum(off == 0 for off in links.off)
    print(f"  shops without a question: {len(links.off)}, cash exact in {exact}")


if __name__ == "__main__":
    main()
