"""Random changes of a shop's files: a row more, mended or gone, a file renamed or parted, another setting or day."""

import re
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from random import Random

from shops import MadeShop, write

Change = Callable[[MadeShop, Random], None]


def _record(shop: MadeShop, random: Random) -> str:
    return random.choice([name for name, rows in shop.rows.items() if rows])


def add_row(shop: MadeShop, random: Random) -> None:
    """One more of a record, like one that is there."""
    rows = shop.rows[_record(shop, random)]
    rows.append(dict(random.choice(rows)) | {"notes": f"note {random.randrange(1000)}"})


def mend_row(shop: MadeShop, random: Random) -> None:
    """Another number in a cell that holds one."""
    for _ in range(50):
        row = random.choice(shop.rows[_record(shop, random)])
        numbers = [name for name, text in row.items() if re.fullmatch(r"\d+(\.\d+)?", text)]
        if numbers:
            name = random.choice(numbers)
            row[name] = str(float(row[name]) + random.randint(1, 3)) if "." in row[name] else str(int(row[name]) + 1)
            return


def remove_row(shop: MadeShop, random: Random) -> None:
    rows = shop.rows[_record(shop, random)]
    if len(rows) > 1:
        rows.pop(random.randrange(len(rows)))


def shuffle_rows(shop: MadeShop, random: Random) -> None:
    random.shuffle(shop.rows[_record(shop, random)])


SAID = (
    '[[pools]]\nname = "pool {}"\namount = {}\n',
    '[[channels]]\nname = "stall {}"\nshare = 0.0{}\n',
    '[[items]]\nname = "thing {}"\ncategory = "hardware"\ndensity = 1.{}\n',
    '[words.operation]\n"smoothing {}" = "sanding"\n"roughing {}" = "sawing"\n',
    "[[rules]]\nfrom = 2026-03-{:02}\ntax_reclaimable = true\nnormal_scrap = 0.{}\n",
)
"""Settings of which some are read with a file, and some are not."""


def change_setting(shop: MadeShop, random: Random) -> None:
    """Another rate of pay, and something that was not said before."""
    shop.toml = re.sub(r"rate = \d+", f"rate = {random.randint(12, 40)}", shop.toml, count=random.randint(1, 3))
    said = random.choice(SAID)
    if said.partition("{")[0] not in shop.toml:
        shop.toml += f"\n{said.format(random.randint(1, 9), random.randint(1, 9))}"


CHANGES: tuple[Change, ...] = (add_row, mend_row, remove_row, shuffle_rows, change_setting)


def changed(shop: MadeShop, random: Random) -> str:
    """Change the shop in one way; gives its name."""
    change = random.choice(CHANGES)
    change(shop, random)
    return change.__name__


def lay_out(shop: MadeShop, folder: Path, random: Random) -> None:
    """The shop's files, those of a record under one of two names, or parted."""
    for old in (folder / "inbox").glob("*.csv"):
        old.unlink()
    style = random.randrange(3)

    def pieces_of(record: str, rows: list[dict[str, str]]) -> dict[str, list[dict[str, str]]]:
        if style == 1:
            return {f"{record}-a": rows[: len(rows) // 2], f"{record}-b": rows[len(rows) // 2 :]}
        return {record if style == 0 else f"{record}-all": rows}

    write(shop, folder, pieces_of)


def day(random: Random) -> date:
    """The day that a refresh is for."""
    return date(2026, 6, 10) + timedelta(days=random.randrange(3))
