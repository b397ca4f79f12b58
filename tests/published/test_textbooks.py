"""Worked examples of cost accounting, several to a shop, from files to published tables.

Figures are facts; names and wording are ours. No page lay open: all are from memory, but for what is reckoned by hand,
and each is recomputed beside its check.
"""

from collections.abc import Callable
from typing import Any

import pytest

from tests.refreshed import AsAsked

Books = Callable[..., AsAsked]

SHOP = 'name = "Example"\ncurrency = "USD"\nstart = {}\n'
HAND = '[[people]]\nname = "{}"\nrole = "employee"\npaid = true\nrate = {}\n'
BOUGHT = "date,receipt,item,category,quantity,unit,amount"
PIECES = "piece,product,quantity,started,finished,status,opening_cost\n"


def ask(con: AsAsked, query: str) -> list[tuple[Any, ...]]:
    return con.execute(query).fetchall()


def made(con: AsAsked) -> dict[str, int]:
    return dict(ask(con, "select piece, made_cents from cost.piece where made_cents <> 0 order by piece"))


def months(con: AsAsked, *columns: str) -> list[tuple[Any, ...]]:
    return ask(con, f"select {', '.join(f'{c}_cents' for c in columns)} from money.month order by month")


PARTS = {
    "FIFO": 550,
    "DISCOUNT": 100,
    "ABROAD": 100,
    "BACK": 60,
    "NAMED": 100,
    "THIRD-1": 1,
    "THIRD-2": 1,
    "THIRD-3": 1,
}


@pytest.mark.parametrize(("flow", "sold", "left"), [("fifo", 620_000, 580_000), ("average", 623_333, 576_667)])
def test_what_is_bought_and_what_goes_back(books: Books, flow: str, sold: int, left: int) -> None:
    """FIFO (Weygandt, Kimmel, Kieso, ch. 6): 100 at 10, 200 at 11, 300 at 12; 550 go; 400 at 13: 6,200 and 5,800 by
    FIFO; by the moving average 6,233.33 and 5,766.67.

    DISCOUNT (26 CFR 1.471-3(b): invoice less trade discount, with freight): 1,000 - 100 + 50. ABROAD: 500 at 1.10.
    BACK: 60 of 100 at 1.00 used, then 120 go back for 170.00: 100 at 1.50 and 20 at 1.00, at what they cost. NAMED: 50
    of the first lot go back; 50 at 1.00 and 50 at 1.50. THIRD: three for 10.00. The last four reckoned by hand.
    """
    item = {tag: tag.partition("-")[0] for tag in PARTS}
    rows = [  # date, receipt, item, quantity, amount, discount, freight, currency, rate, returns, lot
        "2026-04-15,R-1,FIFO,200,2200,,,,,,",
        "2026-08-24,R-2,FIFO,300,3600,,,,,,", "2026-11-27,R-3,FIFO,400,5200,,,,,,",
        "2026-01-02,R-4,DISCOUNT,100,1000,100,50,,,,", "2026-01-02,R-5,ABROAD,100,500,,,EUR,1.10,,",
        "2026-01-02,R-6,BACK,100,100,,,,,,", "2026-01-10,R-7,BACK,100,150,,,,,,", "2026-01-20,C-1,BACK,-120,-170,,,,,,",
        "2026-01-02,R-8,NAMED,100,100,,,,,,L-1", "2026-01-10,R-9,NAMED,100,150,,,,,,L-2",
        "2026-01-20,C-2,NAMED,-50,-50,,,,,L-1,", "2026-01-02,R-10,THIRD,3,10,,,,,,",
    ]  # fmt: skip
    day = dict.fromkeys(PARTS, "2026-01-25") | {"FIFO": "2026-09-10", "BACK": "2026-01-15"}
    head = "date,receipt,item,quantity,amount,discount,freight,paid_currency,paid_rate,returns,lot,category,unit\n"
    con = books(
        SHOP.format("2026-01-01") + f'cost_flow = "{flow}"\n',
        counts="date,item,category,quantity,unit,worth\n2026-01-01,FIFO,hardware,100,each,1000\n",
        purchases=head + "".join(f"{row},hardware,each\n" for row in rows),
        usage="date,item,quantity,unit,pieces\n"
        + "".join(f"{day[tag]},{item[tag]},{units},each,{tag}\n" for tag, units in PARTS.items()),
        pieces=PIECES + "".join(f"{tag},{tag},1,2026-01-02,{day[tag]},finished,\n" for tag in PARTS),
    )
    cost = made(con)
    assert (cost.pop("FIFO"), ask(con, "select sum(on_hand_cents)::bigint from cost.lot where item = 'fifo'")) == (
        sold, [(left,)],
    )  # fmt: skip
    thirds = {"THIRD-1": 333, "THIRD-2": 334, "THIRD-3": 333}
    if flow == "fifo":
        assert cost == {"DISCOUNT": 95_000, "ABROAD": 55_000, "BACK": 6_000, "NAMED": 12_500} | thirds
        assert ask(con, "select sum(cents)::bigint from cost.entry where place = 'waste'") == [(None,)]


def test_a_month_of_a_maker_with_work_begun_and_goods_unsold(books: Books) -> None:
    """Garrison, "Managerial Accounting", job-order costing, Rand Company: materials of 50,000 and 60,000 of labour in
    jobs, overhead of 90,000 applied and 95,000 actual; 158,000 finished, 72,000 begun, 118,500 sold, 59,500 unsold;
    225,000 of sales and 87,000 to sell leave 14,500."""
    days, jobs = range(5, 25), ((200, "DONE"), (100, "BEGUN"))
    con = books(
        SHOP.format("2026-04-01") + "opening_cash = 1000000\n" + HAND.format("crew", 10)
        + '[[pools]]\nname = "works"\nsource = "receipts"\nbasis = "budget"\nrate = 15\noperations = ["cleaning"]\n',
        counts="date,item,category,quantity,unit,worth\n2026-04-01,stuff,hardware,7000,each,7000\n",
        purchases=f"{BOUGHT},pool\n2026-04-02,R-1,stuff,hardware,60000,each,60000,\n"
        + "".join(f"2026-04-03,R-2,bill,overhead,,,{cost},works\n" for cost in (21000, 16000, 3000, 20000, 18000))
        + "2026-04-03,R-3,to sell,selling,,,87000,\n",
        usage="date,item,quantity,unit,pieces\n2026-04-05,stuff,28000,each,DONE\n2026-04-05,stuff,22000,each,BEGUN\n"
        "2026-04-06,stuff,2000,each,\n",
        hours="date,hours,operation,pieces,person\n2026-04-08,1500 h,cleaning,,crew\n"
        + "".join(f"2026-04-{day:02},{h} h,assembly,{job},crew\n" for day in days for h, job in jobs),
        pieces=PIECES + "DONE,medal,1580,2026-03-20,2026-04-27,finished,30000\nBEGUN,plate,1,2026-04-02,,in progress,\n"
        "OLD,medal,200,2026-03-01,2026-03-20,finished,20000\n",
        sales="date,channel,piece,quantity,price\n2026-04-28,shop,OLD,200,100\n2026-04-29,shop,DONE,985,208.12\n",
    )  # fmt: skip
    assert made(con) == {"BEGUN": 7_200_000, "DONE": 15_800_000, "OLD": 2_000_000}
    stages = "select stage, closing_cents from money.stock_month where closing_cents <> 0 order by stage_number"
    assert ask(con, stages) == [("materials", 1_500_000), ("in progress", 7_200_000), ("finished", 5_950_000)]
    # 985 at 208.12 and 200 at 100 are 1.80 short of 225,000
    (row,) = months(con, "revenue", "cost_of_sales", "not_absorbed", "other_period", "selling", "result")
    # of the 5,000 not applied 2,000 are materials that no job took
    assert row == (22_499_820, 11_850_000, 300_000, 200_000, 8_700_000, 1_449_820)


def test_a_first_month_with_its_adjustments(books: Books) -> None:
    """Weygandt, Kimmel, Kieso, ch. 3, an agency's October: revenue 10,600 (10,000 billed, 400 of 1,200 paid ahead, 200
    not billed yet); pay 5,200, supplies 1,500 of 2,500, rent 900, insurance 50 of 600 for a year, wear 40, interest 50:
    2,860 left; 800 is still owed to who paid ahead."""
    con = books(
        SHOP.format("2026-10-01") + HAND.format("staff", 40)
        + '[[machines]]\nname = "press"\nbought = 2026-10-01\nsalvage = 200\nmonths = 120\n'
        '[[pools]]\nname = "rent"\nsource = "amount"\namount = 900\n'
        '[[pools]]\nname = "insurance"\nsource = "receipts"\n',
        purchases=f"{BOUGHT},pool,covers,machine\n2026-10-01,R-1,press,equipment,,,5000,,,press\n"
        "2026-10-04,R-2,insurance,overhead,,,600,insurance,12,\n2026-10-05,R-3,supplies,consumable,2500,each,2500,,,\n"
        "2026-10-31,R-4,interest,selling,,,50,,,\n",
        counts="date,item,category,quantity,unit\n2026-10-31,supplies,consumable,1000,each\n",
        orders="order_no,date,channel,product,price\nAHEAD,2026-10-02,shop,work,1200\nLATER,2026-10-31,shop,work,200\n",
        payments="date,kind,amount,order_no,receipt,note\n2026-10-01,capital,10000,,,\n2026-10-01,loan,5000,,,\n"
        "2026-10-02,deposit,1200,AHEAD,,\n2026-10-01,supplier,5000,,R-1,\n2026-10-03,supplier,900,,,rent\n"
        "2026-10-04,supplier,600,,R-2,\n2026-10-20,drawing,500,,,\n2026-10-26,pay,4000,,,staff\n",
        hours="date,hours,operation,person\n" + "".join(f"2026-10-{n},13,office,staff\n" for n in range(21, 31)),
        pieces=PIECES + "AHEAD,work,3,2026-10-01,2026-10-30,finished,0\nBILLED,job,1,2026-10-01,2026-10-30,finished,0\n"
        "LATER,work,1,2026-10-01,2026-10-30,finished,0\n",
        sales="date,channel,piece,quantity,price,order_no\n2026-10-31,shop,AHEAD,1,400,AHEAD\n"
        "2026-10-31,shop,BILLED,1,10000,\n2026-10-31,shop,LATER,1,200,LATER\n",
    )  # fmt: skip
    found = months(con, "revenue", "period_labour", "not_absorbed", "loss", "selling", "result", "deposits_owed")
    assert found == [(1_060_000, 520_000, 99_000, 150_000, 5_000, 286_000, 80_000)]
    # the example's 15,200; no payment tells of 2,500 for supplies, 50 of interest and the last 200: they count as paid
    assert months(con, "cash_end") == [(1_520_000 - 255_000 + 20_000,)]


def test_work_on_jobs_and_what_it_did_not_take_up(books: Books) -> None:
    """JOB (Horngren, capacity levels): 1,000 hours planned for 10,000, 800 used: 8,000 applied. Mending common to all
    jobs is overhead (Horngren ch. 18): 100 hours at 20 in the pool's cost, and in no job. BATCH: two hours' setting up
    at 30 for 50 units, with 20 of overhead: 1.60 each. MILLED: (42,000 - 2,000) for 20,000 hours is 2.00; 1,500 hours
    are 3,000. RAISE: 10 hours at 20 and, from the 16th, 10 at 22, with 10 of overhead each. The last three reckoned
    by hand."""
    con = books(
        SHOP.format("2026-05-01") + HAND.format("Ada", 20) + HAND.format("Ben", 30) + HAND.format("Cy", 20).replace(
            "rate = 20", "rates = [{ from = 2026-05-01, rate = 20 }, { from = 2026-05-16, rate = 22 }]"
        ) + '[[machines]]\nname = "mill"\nbought = 2026-05-01\nrate = 2\nsalvage = 2000\nmonths = 40\n'
        '[[operations]]\nname = "mending"\nkind = "shop"\n'
        '[[pools]]\nname = "works"\nsource = "receipts"\nbasis = "budget"\nrate = 10\noperations = ["mending"]\n',
        purchases=f"{BOUGHT},pool,machine\n2026-05-01,R-1,mill,equipment,,,42000,,mill\n"
        "2026-05-02,R-2,power,overhead,,,8000,works,\n",
        hours="date,hours,operation,pieces,person,machine,attended\n"
        + "".join(f"2026-05-{day:02},40 h,assembly,JOB,Ada,,\n" for day in range(4, 24))
        + "2026-05-24,100 h,mending,,Ada,,\n2026-05-25,2 h,carving,BATCH,Ben,,\n"
        "2026-05-26,1500 h,carving,MILLED,,mill,no\n2026-05-15,10 h,assembly,RAISE,Cy,,\n"
        "2026-05-16,10 h,assembly,RAISE,Cy,,\n",
        pieces=PIECES + "".join(
            f"{tag},{tag},{units},2026-05-01,2026-05-30,finished,\n"
            for tag, units in (("JOB", 1), ("BATCH", 50), ("MILLED", 1), ("RAISE", 1))
        ),
    )  # fmt: skip
    of = {
        piece: layers
        for piece, *layers in ask(con, "select piece, labour_cents, machine_cents, overhead_cents from cost.piece")
    }
    assert of == {
        "JOB": [1_600_000, 0, 800_000], "BATCH": [6_000, 0, 2_000], "MILLED": [0, 300_000, 0],
        "RAISE": [42_000, 0, 20_000],
    }  # fmt: skip
    assert ask(con, "select unit_cents from cost.piece where piece = 'BATCH'") == [(160,)]
    # 8,000 of power and 2,000 of mending, less 8,000, 20 and 200
    pool = "select actual_cents, not_absorbed_cents from money.pool_month where pool = 'works'"
    assert ask(con, pool) == [(1_000_000, 178_000)]


def test_joint_cost_and_normal_loss(books: Books) -> None:
    """Horngren ch. 16, a dairy's joint cost of 400,000: by what the parts are worth at the split (200,000 and 300,000)
    160,000 and 240,000; by net realisable value (220,000 and 580,000) 110,000 and 290,000; by quantity (1 to 3) 100,000
    and 300,000. A slab stands for the milk.

    A process's normal loss (British process costing): 1,000 units for 12,000, a tenth of them lost normally, scrap at
    1.20; 850 come out: (12,000 - 120) / 900 = 13.20 each, and 50 lost beyond the normal cost 50 x (13.20 - 1.20) = 600.
    A tenth of what goes in is a ninth of what is good.
    """
    slabs = {"NRV": (220_000, 580_000), "SPLIT": (200_000, 300_000), "SIZE": ("", "")}
    bought, blanks = "", ""
    for slab, values in slabs.items():
        bought += f"2026-05-01,{slab},slab,wood,400000,{slab},walnut,1 m,100 mm,50 mm\n"
        for part, length, value in zip(("CREAM", "SKIM"), (250, 750), values, strict=True):
            blanks += f"{slab}-{part},x,1,{slab},walnut,{length} mm,100 mm,50 mm,{value},2026-05-02,,in progress,\n"
    con = books(
        SHOP.format("2026-05-01") + "normal_scrap = 0.111111\n",
        purchases="date,receipt,item,category,amount,lot,species,length,width,thickness\n" + bought,
        pieces="piece,product,quantity,lot,species,blank_length,blank_width,blank_thickness,blank_value,started,finished,"
        f"status,opening_cost\n{blanks}PROCESS,part,1000,,,,,,,2026-05-01,2026-05-20,finished,12000\n",
        inspections="date,piece,defect,action,quantity\n2026-05-20,PROCESS,crack,scrap,150\n",
        counts="date,item,category,quantity,unit,worth,piece\n2026-05-20,scrap,hardware,150,each,180,PROCESS\n",
    )
    cost = made(con)
    shared = {slab: (cost[f"{slab}-CREAM"], cost[f"{slab}-SKIM"]) for slab in slabs}
    assert shared == {
        "NRV": (11_000_000, 29_000_000), "SPLIT": (16_000_000, 24_000_000), "SIZE": (10_000_000, 30_000_000),
    }  # fmt: skip
    assert ask(con, "select unit_cents from cost.piece where piece = 'PROCESS'") == [(1_320,)]
    assert months(con, "loss") == [(60_000,)]


def test_tax_in_and_on_top_of_prices(books: Books) -> None:
    """Weygandt, Kimmel, Kieso, ch. 10: a till of 10,600 that holds 6 % is 10,000 and 600; rung up apart it is the same.
    By hand: taxed and free goods in one till; a discount before the tax; three at 21.20, and one of them back; and an
    allowance of 10.60 takes 0.60 of its tax back (2006/112/EC, article 90; for sales tax common practice, no source).
    """
    con = books(
        SHOP.format("2026-01-01") + 'tax_regime = "sales tax"\n[[tax_rates]]\nregime = "sales tax"\nrate = 0.06\n'
        '[[tax_rates]]\nregime = "sales tax"\ncategory = "book"\nrate = 0\n'
        '[[channels]]\nname = "till"\nprices_hold_tax = true\n',
        pieces=PIECES + "A,bowl,50,2026-01-01,2026-01-01,finished,0\nB,book,50,2026-01-01,2026-01-01,finished,0\n",
        payments="date,kind,amount,event\n2026-02-15,tax,600,\n2026-06-09,refund,10.60,FAIR\n",
        sales="date,channel,event,piece,quantity,price,sales_tax,discount\n2026-01-10,till,,A,1,10600,,\n"
        "2026-02-10,shop,,A,1,10000,600,\n2026-03-10,till,,A,1,106,,\n2026-03-10,till,,B,1,50,,\n"
        "2026-04-10,shop,,A,1,200,,20\n2026-05-02,till,,A,3,21.20,,\n2026-05-20,till,,A,-1,21.20,,\n"
        "2026-06-08,till,FAIR,A,1,106,,\n",
    )
    net = ask(
        con, "select revenue_cents + refund_cents, tax_owed_cents, cash_end_cents from money.month order by month"
    )
    assert net == [
        (1_000_000, 60_000, 1_060_000), (1_000_000, 60_000, 2_060_000), (15_000, 60_600, 2_075_600),
        (18_000, 61_680, 2_094_680), (4_000, 61_920, 2_098_920), (9_000, 62_460, 2_108_460),
    ]  # fmt: skip


def test_a_flat_rate_is_a_share_of_what_buyers_pay(books: Books) -> None:
    """HM Revenue & Customs, VAT Flat Rate Scheme: 1,000 and 200 of VAT; 11 % of 1,200 is 132 owed, and 68 is kept."""
    con = books(
        SHOP.format("2026-01-01") + 'tax_regime = "flat rate"\nflat_rate = 0.11\n',
        pieces=PIECES + "A,bowl,50,2026-01-01,2026-01-01,finished,0\n",
        sales="date,channel,piece,quantity,price,sales_tax\n2026-01-10,shop,A,1,1000,200\n",
    )
    assert months(con, "revenue", "other_income", "result", "tax_owed") == [(100_000, 6_800, 106_800, 13_200)]


def test_what_sales_bring_take_and_leave_owed(books: Books) -> None:
    """All by hand but for what is named. January: of a chair's three, paid ahead with 1,200, one is handed over; a
    voucher of 100 is sold. February: the other two; 30 and 45 of the voucher pay for 30 and 60. March: a booth of 90
    over sales of 60 and 30. April: three at 20 and 5 of postage charged: 6.5 % and 0.20, and 3 % and 0.25 of all of it.
    May: 60 of 100 on consignment at 60, 10 % kept (Kieso, Weygandt, ch. 18, shape from memory). June: an exchange, one
    of 40 back for one of 55. July: an order is called off, 60 of the 100 paid on it given back; a gift, and one kept.
    """
    con = books(
        SHOP.format("2026-01-01")
        + '[[channels]]\nname = "web"\nshare = 0.065\nfixed = 0.20\npayment_share = 0.03\npayment_fixed = 0.25\n'
        '[[events]]\nname = "SPRING"\nday = 2026-03-07\nfee = 90\n',
        pieces="piece,product,quantity,started,finished,status,ended,order_no,opening_cost\n"
        "K,set,3,2026-01-01,2026-01-02,finished,,K,90\nV,vase,100,2026-01-01,2026-01-02,finished,,,1000\n"
        "C,chair,100,2026-01-01,2026-01-02,finished,,,3600\nG,cup,1,2026-01-01,2026-01-02,gift,2026-07-05,,7\n"
        "H,cup,1,2026-01-01,2026-01-02,kept,2026-07-05,,8\n",
        moves="date,pieces,place\n2026-01-05,C,Gallery\n",
        orders="order_no,date,channel,product,price,cancelled\nK,2026-01-02,shop,set,1200,\nL,2026-06-02,shop,set,300,2026-07-02\n",
        payments="date,kind,amount,order_no\n2026-01-02,deposit,1200,K\n2026-01-04,voucher sold,100,\n"
        "2026-02-10,voucher used,30,\n2026-02-12,voucher used,45,\n2026-06-03,deposit,100,L\n2026-07-03,refund,60,L\n",
        sales="date,channel,event,piece,quantity,price,shipping_charged,shipping_paid,channel_fee,order_no\n"
        "2026-01-31,shop,,K,1,400,,,,K\n2026-02-28,shop,,K,2,400,,,,K\n2026-02-10,shop,,V,1,30,,,,\n"
        "2026-02-12,shop,,V,1,60,,,,\n2026-03-07,market,SPRING,V,2,30,,,,\n2026-03-07,market,SPRING,V,1,30,,,,\n"
        "2026-04-10,web,,V,3,20,5,6,,\n2026-05-10,Gallery,,C,60,60,,,360,\n2026-06-10,shop,,V,1,40,,,,\n"
        "2026-06-12,shop,,V,-1,40,,,,\n2026-06-12,shop,,V,1,55,,,,\n",
    )
    found = months(con, "revenue", "refund", "cost_of_sales", "selling", "other_income", "own_use", "result")
    assert found == [
        (40_000, 0, 3_000, 0, 0, 0, 37_000), (89_000, 0, 8_000, 0, 0, 0, 81_000),
        (9_000, 0, 3_000, 9_000, 0, 0, -3_000),
        (6_500, 0, 3_000, 1_230, 0, 0, 2_270), (360_000, 0, 216_000, 36_000, 0, 0, 108_000),
        (9_500, -4_000, 1_000, 0, 0, 0, 4_500), (0, 0, 0, 700, 4_000, 800, 3_300),
    ]  # fmt: skip
    owed = months(con, "deposits_owed", "vouchers_owed")
    assert owed == [(80_000, 10_000), (0, 2_500), (0, 2_500), (0, 2_500), (0, 2_500), (10_000, 2_500), (0, 2_500)]
    booth = "select cents from cost.trace where operation = 'booth fee' and to_place = 'sold' order by cents"
    assert ask(con, booth) == [(3_000,), (6_000,)]
    fees = "select operation, cents from cost.trace where to_place = 'sold' and on_date = '2026-04-10'"
    fees += " and layer = 'selling'"
    assert dict(ask(con, fees)) == {"channel fee": 410, "payment fee": 220, "postage": 600}
    left = "select closing_cents from money.stock_month where stage = 'consigned' order by month"
    assert [cents for (cents,) in ask(con, left)][3:5] == [360_000, 144_000]


def test_a_write_down_comes_back_as_far_as_cost_and_a_years_bill_goes_by_the_month(books: Books) -> None:
    """IAS 2, paragraph 33 (by hand): 100 in the piece, asked at 80, then 95, then 150: 20 down, 15 and 5 of it back.
    A bill of 1,000 for three months from November: 333.33, 333.34, 333.33."""
    con = books(
        SHOP.format("2025-11-01") + '[[pools]]\nname = "insurance"\nsource = "receipts"\n',
        purchases=f"{BOUGHT},pool,covers\n2025-11-20,R-1,insurance,overhead,,,1000,insurance,3\n",
        pieces=PIECES.replace("\n", ",listed,list_price\n")
        + "N,vase,1,2025-10-01,2025-10-08,finished,100,2025-11-01,120\n",
        moves="date,pieces,place,list_price\n2025-12-05,N,shop,80\n2026-01-05,N,shop,95\n2026-02-05,N,shop,150\n",
    )
    assert months(con, "write_down", "not_absorbed") == [(0, 33_333), (2_000, 33_334), (-1_500, 33_333), (-500, 0)]
