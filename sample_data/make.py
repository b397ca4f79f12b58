"""Make the demo shop: files as messy as a real pile, from a seed, with a known truth beside them.

python -m sample_data.make --pieces 400 --years 3 --seed 20231101 DIR
"""

import argparse
import random
from datetime import date
from pathlib import Path

from sample_data import bench, market, pile, receipts, settings, shelf, truth_of
from sample_data import workshop as w
from sample_data.story import Story


def make(folder: Path, pieces: int = 400, years: float = 3, seed: int = 20231101, truth: Path | None = None) -> None:
    """Write a shop into `folder` (settings, mappings, inbox) and what is true of it into `truth`, where one is named.

    `pieces` pieces or runs over `years` from 2023-11-01; the same arguments give the same bytes. Some twenty input rows
    come with each piece.
    """
    rng = random.Random(seed)
    start = w.START.toordinal()
    story = Story(start, _end(years))
    bench.work(rng, story, pieces)
    bench.already_there(rng, story)
    bench.cut_off(story)
    market.sell(rng, story)
    bench.cut_off(story)
    lots = shelf.buy_wood(rng, story)
    losses = shelf.stock_up(rng, story)
    receipts.other_bills(rng, story)
    receipts.write_receipts(rng, story)
    written = pile.write(rng, story, lots, folder)
    free_events = [
        (tag, date.fromordinal(day), fee if n % 13 == 5 else 0) for n, (tag, day, fee) in enumerate(story.events)
    ]
    text = settings.shop_toml(free_events, date.fromordinal(story.timer))
    (folder / "shop.toml").write_text(text, encoding="utf-8", newline="\n")
    if truth is not None:
        truth_of.write(story, lots, losses, written, truth)


def _end(years: float) -> int:
    """The last day: the day before the records' birthday, or the fraction of a year from there."""
    whole = int(years)
    birthday = w.START.replace(year=w.START.year + whole).toordinal()
    return birthday + round((years - whole) * 365) - 1


def main(arguments: list[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description="Make the demo shop, or a larger one like it.")
    parser.add_argument("folder", type=Path, metavar="DIR", help="where to write the shop")
    parser.add_argument("--pieces", type=int, default=400, help="pieces and runs (400)")
    parser.add_argument("--years", type=float, default=3, help="years from 2023-11-01 (3)")
    parser.add_argument("--seed", type=int, default=20231101, help="the same seed gives the same bytes")
    parser.add_argument("--truth", type=Path, help="also write what is true of it into this folder")
    given = parser.parse_args(arguments)
    make(given.folder, given.pieces, given.years, given.seed, given.truth)


if __name__ == "__main__":
    main()
