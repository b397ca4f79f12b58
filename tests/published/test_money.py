"""Published worked examples of results, variances, break-even, margins and write-downs, from files to published tables.

The examples' figures are facts with a citation; names and wording are ours. OSX-F and OSX-M are Franklin, Graybeal and
Cooper, "Principles of Accounting", volume 1 (Financial) and 2 (Managerial), OpenStax, CC BY-NC-SA 4.0.

Left out, and why:
- target profit, after tax too (OSX-M 3.2): the tool sets no target; own pay as a cost takes its place;
- cost pools by five activities (OSX-M 6.1, 6.3): a pool goes by bench hours, machine hours or labour cost;
- depreciation by units of production and by declining balance (OSX-F 11.3): machines wear by straight line;
- sell or process further (OSX-M 10.5): a choice about the future;
- last in first out, and the periodic average (OSX-F 10.2): not offered.
"""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from pipeline.reports.month import html
from tests.refreshed import AsAsked

Books = Callable[..., AsAsked]

SHOP = 'name = "Example"\ncurrency = "USD"\nstart = 2026-01-01\n'


def ask(con: AsAsked, query: str) -> list[tuple[Any, ...]]:
    return con.execute(query).fetchall()


def rent(*amounts: tuple[str, int]) -> str:
    """A pool that no work takes, so that each month bears it whole."""
    return (
        '[[pools]]\nname = "rent"\namounts = ['
        + ", ".join(f"{{ from = {d}, amount = {a} }}" for d, a in amounts)
        + "]\n"
    )


def test_price_and_volume_variances_and_the_rest_of_the_way(books: Books) -> None:
    """Horngren, Datar, Rajan and co-authors, "Cost Accounting", ch. 7, exercise 7-16 with its solution (Brabham).

    The plan is the month before, the actual figures are the month: 3,000 tyres at 110, cost 74 each and 54,000 a month;
    then 2,800 at 112, cost 82 each and 50,000.
    """
    con = books(
        SHOP + rent(("2026-01-01", 54000), ("2026-02-01", 50000)),
        pieces="piece,product,quantity,finished,status,opening_cost,list_price\n"
        "A,tyre,3000,2026-01-02,finished,222000,110\nB,tyre,2800,2026-01-02,finished,229600,112\n",
        sales="date,channel,piece,quantity,price\n2026-01-20,shop,A,3000,110\n2026-02-20,shop,B,2800,112\n",
    )
    results = (
        "select revenue_cents, cost_of_sales_cents, not_absorbed_cents, result_cents from money.month order by month"
    )
    assert ask(con, results) == [
        (33_000_000, 22_200_000, 5_400_000, 5_400_000),
        (31_360_000, 22_960_000, 5_000_000, 3_400_000),
    ]
    parts = dict(
        ask(con, "select part, cents from money.bridge where month = '2026-02-01' and against = 'the month before'")
    )
    assert parts.pop("price") == 560_000  # 5,600 F
    assert parts.pop("volume") == -720_000  # 7,200 U
    assert parts.pop("yield") == -2_240_000  # variable cost, 22,400 U
    assert parts.pop("not absorbed") == 400_000  # fixed cost, 4,000 F
    assert set(parts.values()) == {0}  # the flexible budget leaves no more: 20,000 U in all
    page = html(con, date(2026, 2, 1))
    assert "February 2026 so far made 20,000.00 USD less than January 2026, mainly by more material in what was" in page


VARIANCES = {
    # (price of a kilogram, kilograms) as planned and as it was; variances in dollars, favourable ones positive
    "Biglow shampoo": ((0.85, 88_000), (0.84, 89_000), 890, -850),
    "Connie's Candy, cheaper": ((7, 20), (6, 20), 20, 0),
    "Connie's Candy, dearer": ((7, 20), (9, 20), -40, 0),
    "Connie's Candy, less, a hundred boxes": ((7, 25), (7, 20), 0, 35),
    "Connie's Candy, more, a hundred boxes": ((7, 25), (7, 50), 0, -175),
    "Connie's Candy, dearer and more, a hundred boxes": ((7, 25), (9, 50), -100, -175),
}


def test_material_price_and_quantity_variances(books: Books) -> None:
    """OSX-M 8.2. What was planned is the month before, so that each example takes two months.

    Where it is per box, a hundred boxes stand for one.
    """
    bought, used, pieces, sold = "", "", "", ""
    for n, (standard, actual, _, _) in enumerate(VARIANCES.values()):
        for month, (each, kilograms) in zip(
            (f"2025-{2 * n + 1:02}", f"2025-{2 * n + 2:02}"), (standard, actual), strict=True
        ):
            bought += f"{month}-02,mix {n},hardware,{kilograms},kg,{each * kilograms:.2f}\n"
            used += f"{month}-03,mix {n},{kilograms},kg,P-{month}\n"
            pieces += f"P-{month},box {n},100,{month}-01,{month}-04,finished\n"
            sold += f"{month}-05,shop,P-{month},100,2000\n"
    con = books(
        SHOP.replace("2026", "2025"),
        purchases="date,item,category,quantity,unit,amount\n" + bought,
        usage="date,item,quantity,unit,pieces\n" + used,
        pieces="piece,product,quantity,started,finished,status\n" + pieces,
        sales="date,channel,piece,quantity,price\n" + sold,
    )
    for n, (name, (_, _, price, quantity)) in enumerate(VARIANCES.items()):
        query = (
            f"select part, cents from money.bridge where month = '2025-{2 * n + 2:02}-01'"
            " and against = 'the month before' and cents <> 0"
        )
        expected = {"material price": 100 * price, "yield": 100 * quantity}
        assert dict(ask(con, query)) == {part: cents for part, cents in expected.items() if cents}, name


@pytest.mark.parametrize(
    ("price", "variable", "fixed", "sold", "results", "units", "revenue", "safety"),
    [
        # 80 a unit to cover 18,000; three months with 175, 225 and 300 units lose 4,000, break even and make 6,000
        pytest.param(100, 20, 18_000, (175, 225, 300), (-4_000, 0, 6_000), 225, 22_500, 7_500, id="Hicks"),
        pytest.param(90, 40, 85_000, (2_500,), (40_000,), 1_700, 153_000, 72_000, id="Manteo"),
        pytest.param(90, 40, 95_000, (1_900,), (0,), 1_900, 171_000, 0, id="Manteo, with 10,000 to spare"),
    ],
)
def test_break_even_and_margin_of_safety(
    books: Books,
    price: int,
    variable: int,
    fixed: int,
    sold: tuple[int, ...],
    results: tuple[int, ...],
    units: int,
    revenue: int,
    safety: int,
) -> None:
    """OSX-M 3.2 and 3.5. (One of the book's figures prints 170,000 where its text and sum give 171,000.)"""
    pieces = "".join(f"P-{n},bath,{count},2026-01-01,finished,{variable * count}\n" for n, count in enumerate(sold, 1))
    sales = "".join(f"2026-{n:02}-15,shop,P-{n},{count},{price}\n" for n, count in enumerate(sold, 1))
    con = books(
        SHOP + rent(("2026-01-01", fixed)),
        pieces="piece,product,quantity,finished,status,opening_cost\n" + pieces,
        sales="date,channel,piece,quantity,price\n" + sales,
    )
    assert ask(con, "select result_cents from money.month order by month") == [(100 * result,) for result in results]
    last = ask(
        con,
        "select contribution_per_unit_cents, contribution_share, break_even_units, break_even_cents, safety_cents,"
        " safety_share"
        " from money.break_even where reckoning = 'books' order by month desc limit 1",
    )[0]
    assert last[:5] == (
        100 * (price - variable),
        pytest.approx((price - variable) / price),
        units,
        100 * revenue,
        100 * safety,
    )
    assert last[5] == pytest.approx(safety / (sold[-1] * price))  # Manteo: 32 %


def test_lower_of_cost_and_net_realisable_value_item_by_item(books: Books) -> None:
    """Mirza, Orrell, Holt, "Wiley IFRS: Practical Implementation Guide and Workbook", chapter on IAS 2 (Moonstruck).

    In all the goods would bring 1,080,000, more than they cost: only item by item is there anything to write down.
    """
    goods = {  # quantity, cost and net realisable value of one
        "SOFA": (100, 1000, 1020), "TABLE": (200, 500, 450), "BED": (300, 1500, 1600), "CLOSET": (400, 750, 770),
        "CHAIR": (500, 250, 200),
    }  # fmt: skip
    rows = "".join(
        f"{tag},{tag.lower()},{n},2026-01-01,finished,{n * cost},{worth}\n" for tag, (n, cost, worth) in goods.items()
    )
    con = books(SHOP, pieces="piece,product,quantity,finished,status,opening_cost,list_price\n" + rows)
    assert ask(
        con,
        "select piece, books_cost_cents, worth_cents, books_written_down_cents from money.write_down order by piece",
    ) == [
        ("CHAIR", 12_500_000, 10_000_000, 2_500_000),
        ("TABLE", 10_000_000, 9_000_000, 1_000_000),
    ]
    assert ask(con, "select sum(closing_cents), sum(written_down_cents) from money.stock_month") == [
        (107_500_000, 3_500_000)
    ]
    assert ask(con, "select write_down_cents, books_result_cents from money.month") == [(3_500_000, -3_500_000)]


def test_volume_and_mix_by_units_beside_those_by_revenue(books: Books) -> None:
    """Horngren and co-authors, "Cost Accounting", 13th ed., pp. 517-519, soft drinks (page read); a hundredth of each.

    400,000, 600,000 and 1,500,000 units that leave 2.00, 1.20 and 2.50; then 480,000, 900,000 and 1,620,000. Together
    820,000: quantity 1,054,000 and mix -234,000. Each sells here at twice what it leaves; by revenue it is all volume.
    """
    drinks = {"KOLA": (4_000, 4_800, 2), "LIMOR": (6_000, 9_000, 1.2), "ORLEM": (15_000, 16_200, 2.5)}
    pieces, sales = "", ""
    for tag, (*units, left) in drinks.items():
        for month, n in enumerate(units, 1):
            pieces += f"{tag}-{month},{tag.lower()},{n},2026-01-02,finished,{n * left:.0f}\n"
            sales += f"2026-{month:02}-20,shop,{tag}-{month},{n},{2 * left:.2f}\n"
    con = books(
        SHOP,
        pieces="piece,product,quantity,finished,status,opening_cost\n" + pieces,
        sales="date,channel,piece,quantity,price\n" + sales,
    )
    parts = ask(
        con,
        "select part, cents, by_units_cents from money.bridge where month = '2026-02-01'"
        " and against = 'the month before' and (cents <> 0 or by_units_cents is not null)",
    )
    assert parts == [("volume", 820_000, 1_054_000), ("mix", 0, -234_000)]


def test_what_selling_takes_is_exact_to_the_cent(books: Books) -> None:
    """Reckoned by hand: fees of 1 on 3 of revenue leave 62,500.00 of a list price of 93,750, no share rounded first."""
    con = books(
        SHOP,
        pieces="piece,product,finished,status,opening_cost,list_price\n"
        "SOLD,bowl,2026-01-02,finished,1,\nHELD,table,2026-01-02,finished,70000,93750\n",
        sales="date,channel,piece,price,channel_fee\n2026-01-20,shop,SOLD,3,1\n",
    )
    assert ask(con, "select worth_cents, written_down_cents from money.write_down") == [(6_250_000, 750_000)]


def test_a_list_price_holds_from_the_day_it_was_listed_on(books: Books) -> None:
    """Reckoned by hand: 300 in the piece, listed at 100 in March: nothing is written down before."""
    con = books(
        SHOP,
        pieces="piece,product,finished,status,opening_cost,listed,list_price\n"
        "A,bowl,2026-01-02,finished,300,2026-03-15,100\n",
        inspections="date,piece,defect\n2026-04-02,A,none\n",
    )
    months = ask(con, "select month(month), write_down_cents from money.month order by month")
    assert months == [(1, 0), (2, 0), (3, 20_000), (4, 0)]


def test_a_price_asked_anew_holds_from_its_day_and_changes_no_day_before(books: Books) -> None:
    """Reckoned by hand. A, 300 in it, is listed at 400, from 20 February asked at 250, from 9 April at 280: 50 down,
    then 30 of it back. B, C and D are listed at 210, 150 and 210, from 10 March C is 210 and D is 150. Two are sold
    untagged for 210: on 5 March the older of those at 210 then, on 20 March the one that is so by then."""
    con = books(
        SHOP,
        pieces="piece,product,finished,status,opening_cost,listed,list_price\n"
        "A,bowl,2026-01-02,finished,300,2026-01-05,400\n"
        "B,tray,2026-01-03,finished,200,2026-01-05,210\nC,tray,2026-01-02,finished,200,2026-01-05,150\n"
        "D,tray,2026-01-04,finished,200,2026-01-05,210\n",
        moves="date,pieces,place,list_price\n2026-02-20,A,shop,250\n2026-04-09,A,shop,290\n2026-04-09,A,Gallery,280\n"
        "2026-03-10,C,shop,210\n2026-03-10,D,shop,150\n2026-04-12,A,shop,\n",
        sales="date,channel,product,price\n2026-03-05,shop,tray,210\n2026-03-20,shop,tray,210\n",
    )
    down = "select month(month), expected_cents, written_down_cents from money.write_down where piece = 'A'"
    assert ask(con, f"{down} order by month") == [
        (2, 25_000, 5_000), (3, 25_000, 5_000), (4, 28_000, 2_000),
    ]  # fmt: skip
    assert ask(con, "select piece, on_date::varchar from work.guessed_sale order by on_date") == [
        ("B", "2026-03-05"), ("C", "2026-03-20"),
    ]  # fmt: skip
    # where a price stands is a click away
    papers = "select row.record, price.from_date::varchar from work.list_price as price join intake.row using (row_id)"
    assert ask(con, f"{papers} where piece = 'A' order by 2") == [
        ("pieces", "2026-01-05"), ("moves", "2026-02-20"), ("moves", "2026-04-09"),
    ]  # fmt: skip


def test_a_new_price_alone_leaves_a_piece_where_it_is(books: Books) -> None:
    """Reckoned by hand: 300 lies at a gallery from 20 February on, and stays there, asked at 250 from March on."""
    con = books(
        SHOP,
        pieces="piece,product,finished,status,opening_cost,listed,list_price\n"
        "A,bowl,2026-01-02,finished,300,2026-01-05,400\n",
        moves="date,pieces,place,list_price\n2026-02-20,A,Gallery,\n2026-03-09,A,,250\n",
    )
    stages = "select month(month), stage, closing_cents, written_down_cents from money.stock_month"
    assert ask(con, f"{stages} where closing_cents <> 0 order by 1") == [
        (1, "finished", 30_000, 0), (2, "consigned", 30_000, 0), (3, "consigned", 30_000, 5_000),
    ]  # fmt: skip


def test_gross_profit_of_a_small_business(books: Books) -> None:
    """US Internal Revenue Service, Publication 334, ch. 7 "Figuring Gross Profit" (public domain; figures for 2016).

    400,000 taken, 14,940 given back; stock of 37,845 grows by 285,900, of which 2,650 is kept and 32,955 is left. One
    thing in stock is worth one dollar; what came back had cost nothing.
    """
    con = books(
        SHOP,
        counts="date,item,category,quantity,unit,worth,cause\n2026-01-01,goods,hardware,37845,each,37845,\n"
        "2026-01-20,goods,hardware,321095,each,,own use\n2026-01-31,goods,hardware,32955,each,,count\n",
        purchases="date,item,category,quantity,unit,amount\n2026-01-10,goods,hardware,285900,each,285900\n",
        usage="date,item,quantity,unit,pieces\n2026-01-25,goods,288140,each,A\n",
        pieces="piece,product,started,finished,status\nA,all of it,2026-01-02,2026-01-26,finished\n"
        "B,trifle,2026-01-02,2026-01-02,finished\n",
        sales="date,channel,piece,quantity,price\n2026-01-28,shop,A,1,385060\n2026-01-28,shop,B,1,14940\n2026-01-30,shop,B,-1,14940\n",
    )
    assert ask(con, "select revenue_cents, refund_cents, cost_of_sales_cents, gross_margin_cents from money.month") == [
        (40_000_000, -1_494_000, 28_814_000, 9_692_000)
    ]
    materials = (
        "select opening_cents, bought_cents, own_use_and_gifts_cents, moved_out_cents, closing_cents"
        " from money.stock_month where stage = 'materials'"
    )
    assert ask(con, materials) == [(3_784_500, 28_590_000, 265_000, 28_814_000, 3_295_500)]


def test_margin_is_a_share_of_the_price_and_no_markup(books: Books) -> None:
    examples = [  # cost, price; margin and markup in percent
        # United States Tax Court, Smith v. Commissioner, T.C. Memo. 1998-143: 18 % on cost is 15 % of the
        # price, not 18 %; 40 % of the price is 67 % on cost. Compared on whole percents, as the court put them.
        (100, 118, 15, 18),
        (60, 100, 40, 67),
        # Publication 334, test of gross profit: 200,000 of 300,000 leaves 33 1/3 %
        (200_000, 300_000, 33, 50),
    ]
    pieces, sales = "piece,product,finished,status,opening_cost\n", "date,channel,piece,price\n"
    for n, (cost, price, _, _) in enumerate(examples, 1):
        pieces += f"P-{n},bowl,2026-01-02,finished,{cost}\n"
        sales += f"2026-0{n}-20,shop,P-{n},{price}\n"
    con = books(SHOP, pieces=pieces, sales=sales)
    of_month = ask(con, "select margin_share from money.month order by month")
    of_product = ask(
        con,
        "select margin_share, net_revenue_cents, cost_of_sales_cents from money.margin"
        " where factor = 'product' and span = 'month' order by month",
    )
    for (_, _, margin, markup), (month,), (share, net, cost) in zip(examples, of_month, of_product, strict=True):
        assert round(100 * month) == round(100 * share) == margin
        assert round(100 * (net - cost) / cost) == markup


LABOUR = """
[[people]]
name = "Ada"
role = "employee"
paid = true
rate = {rate}
[[pools]]
name = "shop"
source = "receipts"
driver = "{driver}"
basis = "budget"
rate = {pool}
"""


@pytest.mark.parametrize(
    ("rate", "driver", "pool", "hours", "months"),
    # of each month: its bills, what pieces took of them, and what is left
    [
        # OSX-M 4.6: 2.50 for each dollar of 100,000 of labour against 256,500; against 248,000, which is too much
        pytest.param(
            *(100, "labour cost", 2.5, 1_000),
            [((256_500,), 250_000, 6_500), ((248_000,), 250_000, -2_000)],
            id="Dinosaur Vinyl",
        ),
        pytest.param(
            *(20, "bench hours", 33.5, 6_240),
            [((25_000, 31_750, 50_000, 17_500, 85_000), 209_040, 210)],
            id="Kraken",
        ),
    ],
)
def test_overhead_not_absorbed(
    books: Books, rate: int, driver: str, pool: float, hours: int, months: list[tuple[tuple[int, ...], int, int]]
) -> None:
    """OSX-M 4.6. What pieces did not take is a cost of the month."""
    rows, billed = "", ""
    for month, (bills, _, _) in enumerate(months, 1):
        rows += "".join(f"2026-0{month}-{day % 28 + 1:02},Ada,sanding,20,A\n" for day in range(hours // 20))
        billed += "".join(f"2026-0{month}-05,bill {n},overhead,shop,{bill}\n" for n, bill in enumerate(bills))
    con = books(
        SHOP + LABOUR.format(rate=rate, driver=driver, pool=pool),
        purchases="date,item,category,pool,amount\n" + billed,
        pieces="piece,product,started,status\nA,job,2026-01-01,in progress\n",
        hours="date,person,operation,hours,pieces\n" + rows,
    )
    query = (
        "select opening_cents, actual_cents, applied_cents, not_absorbed_cents, closing_cents"
        " from money.pool_month where pool = 'shop' order by month"
    )
    assert ask(con, query) == [(0, 100 * sum(bills), 100 * applied, 100 * short, 0) for bills, applied, short in months]
    left = ask(con, "select not_absorbed_cents from money.month order by month")
    assert left == [(100 * short,) for _, _, short in months]
