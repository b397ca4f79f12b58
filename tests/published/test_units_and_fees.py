"""Fees of a channel that no setting says, and resin in units that can't be weighed. All reckoned by hand."""

from collections.abc import Callable
from itertools import product
from typing import Any

from pipeline.reports.check import findings
from tests.refreshed import AsAsked

Books = Callable[..., AsAsked]

SHOP = 'name = "Example"\ncurrency = "USD"\nstart = 2026-01-01\n'


def ask(con: AsAsked, query: str) -> list[tuple[Any, ...]]:
    return con.execute(query).fetchall()


def test_a_channel_named_without_fees_has_those_of_its_sales(books: Books) -> None:
    named = '[[channels]]\nname = "{}"\n'
    begun = named + "[[channels.fees]]\nfrom = 2026-01-01\n"
    said = {
        # 6.50 and 3.00 of 100.00
        "not named": ("", 65_000, 30_000),
        "named": (named, 65_000, 30_000),
        "that pays the tax": (named + 'tax_by = "channel"\n', 65_000, 30_000),
        "of a day": (begun, 65_000, 30_000),
        # a fee that is said is the fee, and the others are none; none at all can be said too
        "with a fixed fee": (named + "fixed = 0.20\n", 0, 0),
        "without a share": (named + "share = 0\n", 0, 0),
        "with a share of a day": (begun + "share = 0.08\n", 80_000, 0),
    }
    con = books(
        SHOP + "".join(settings.format(channel) for channel, (settings, _, _) in said.items()),
        sales="date,channel,product,price,channel_fee,payment_fee\n"
        + "".join(f"2026-02-03,{channel},tray,100,6.50,3\n" for channel in said),
    )
    found = ask(con, "select channel, share_ppm, payment_share_ppm from price.channel")
    assert {channel: shares for channel, *shares in found} == {
        channel: [*shares] for channel, (_, *shares) in said.items()
    }


def test_one_fee_that_is_said_fills_empty_cells_by_itself(books: Books) -> None:
    """5 % of 100.00; what is not said beside it is no fee."""
    toml = SHOP + '[[channels]]\nname = "web"\nshare = 0.05\n'
    con = books(toml, sales="date,channel,product,price\n2026-02-03,web,tray,100\n")
    assert ask(con, "select operation, cents from cost.trace where from_place = 'fee'") == [("channel fee", 500)]


# Resin by the set: 300 g of what came as one set for 197.80.

PIECES = "piece,product,started,finished,status\n"
TRAY = "T-{0},tray,2026-01-08,2026-01-20,finished\n"
BOUGHT = "date,receipt,item,category,quantity,unit,amount\n"
SET = "2026-01-05,R-{0},{1},{2},1,{3},197.80\n"
USED = "date,item,quantity,unit,pieces\n"
POURS = "pour,date,purpose,resin,part_a,part_b,deposited,piece\n"
POUR = "P-{0},2026-01-10,flood,{1},200 g,100 g,300 g,T-{0}\n"
UNITS = ("set", "kit", "each")
CATEGORIES = ("resin", "finish", "consumable", "hardware")


def of_each(head: str, row: str, *rows: tuple[str, ...]) -> str:
    """The text of a file with a row for each, numbered."""
    return head + "".join(row.format(n, *cells) for n, cells in enumerate(rows))


def costs_nothing_until_its_size_is_known(con: AsAsked, *items: tuple[str, ...]) -> None:
    """What was bought of each item stays on the shelf, and the first findings are about just these."""
    assert ask(con, "select made_cents from cost.piece") == [(0,)] * len(items)
    assert ask(con, "select on_hand_cents from cost.lot") == [(19_780,)] * len(items)
    found = findings(con)
    first = found[: len(items)]
    # how much was bought is not known, so no receipt can be said to be missing, and no balance to be wrong
    assert not {"missing receipt", "resin_disagrees"} & {f.kind for f in found}
    assert {(f.severity, f.kind, f.cents) for f in first} == {("error", "size not known", 19_780)}
    for item, *_ in items:
        assert len([f for f in first if f.what.startswith(f"How much {item} was ")]) == 1, item


def test_a_pour_of_what_was_bought_by_the_set_costs_nothing_until_its_size_is_known(books: Books) -> None:
    told, bought = "", []
    for n, (unit, category, base) in enumerate(product(UNITS, CATEGORIES, ("", 'base_unit = "each"'))):
        bought.append((f"clear {n}", category, unit))
        told += f'[[items]]\nname = "clear {n}"\n{base}\n' if base else ""
    con = books(
        SHOP + told,
        purchases=of_each(BOUGHT, SET, *bought),
        pours=of_each(POURS, POUR, *bought),
        pieces=of_each(PIECES, TRAY, *bought),
    )
    costs_nothing_until_its_size_is_known(con, *bought)
    assert ask(con, "select name from checks.result where severity = 'error' and rows > 0") == []


def test_a_kits_size_is_told_by_weight_or_by_volume(books: Books) -> None:
    sizes = (
        # 300 of 1,200 g
        "kit_weight = 1200",
        # 300 g are 250 of 1,000 ml at 1.2 g/ml
        "kit = 1000\ndensity = 1.2",
        'kit_weight = 1200\ndensity = 1.2\nbase_unit = "ul"',
        'kit = 1000\ndensity = 1.2\nbase_unit = "ul"',
        # both told, and they do not agree: it is kept by weight, and the weight holds
        "kit = 900\nkit_weight = 1200",
    )
    told, bought = "", []
    for n, (size, unit) in enumerate(product(sizes, UNITS)):
        bought.append((f"clear {n}", "resin", unit))
        told += f'[[items]]\nname = "clear {n}"\n{size}\n'
    con = books(
        SHOP + told,
        purchases=of_each(BOUGHT, SET, *bought),
        pours=of_each(POURS, POUR, *bought),
        pieces=of_each(PIECES, TRAY, *bought),
    )
    # a quarter of 197.80
    assert dict(ask(con, "select piece, made_cents from cost.piece")) == {f"T-{n}": 4945 for n in range(15)}
    assert [f.kind for f in findings(con) if f.severity == "error"] == []


def test_a_kit_that_is_not_poured_is_kept_as_its_size_is_told(books: Books) -> None:
    """50 of 500 ml for 40.00, and 30 of 300 g for 15.00."""
    toml = SHOP + '[[items]]\nname = "hard wax"\nkit = 500\n[[items]]\nname = "paste"\nkit_weight = 300\n'
    bought = BOUGHT + "2026-01-05,R-1,hard wax,finish,1,each,40\n2026-01-05,R-2,paste,finish,1,kit,15\n"
    used = USED + "2026-01-10,hard wax,50,ml,T-1\n2026-01-10,paste,30,g,T-1\n"
    con = books(toml, purchases=bought, usage=used, pieces=PIECES + TRAY.format(1))
    assert ask(con, "select made_cents from cost.piece") == [(550,)]


def test_a_use_in_a_unit_that_its_item_is_not_bought_in_is_told(books: Books) -> None:
    bought = [(f"clear {n}", category, "each") for n, category in enumerate((*CATEGORIES, "colourant"))]
    con = books(
        SHOP,
        purchases=of_each(BOUGHT, SET, *bought),
        usage=of_each(USED, "2026-01-10,{1},300,g,T-{0}\n", *bought),
        pieces=of_each(PIECES, TRAY, *bought),
    )
    costs_nothing_until_its_size_is_known(con, *bought)


def test_a_pour_of_one_piece_is_that_pieces_without_a_deposit_and_one_of_two_is_shared_by_guess(books: Books) -> None:
    """300 of 1,200 g at 197.80 in T-1; as much again in T-2 and T-3 together."""
    rows = "P-0,2026-01-10,flood,clear,200 g,100 g,,T-1\n"
    rows += "".join(f"P-1,2026-01-10,flood,clear,200 g,100 g,,{piece}\n" for piece in ("T-2", "T-3"))
    con = books(
        SHOP + '[[items]]\nname = "clear"\nkit_weight = 1200\n',
        purchases=BOUGHT + SET.format(1, "clear", "resin", "kit"),
        pours=POURS + rows,
        pieces=PIECES + "".join(TRAY.format(n) for n in (1, 2, 3)),
    )
    known = ask(con, "select piece, made_cents, estimated_share from cost.piece order by piece")
    assert known == [("T-1", 4945, 0.0), ("T-2", 2473, 1.0), ("T-3", 2472, 1.0)]
