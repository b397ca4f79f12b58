"""Layouts of real files through a whole refresh: each row is loaded, part of another, set aside, or passed over."""

import shutil
from pathlib import Path

import pytest

from pipeline import database
from tests.refreshed import refreshed


@pytest.fixture
def shop_of(tiny_shop: Path):
    def of(mappings: dict[str, str] | None = None, **files: str):
        (tiny_shop / "mappings").mkdir(exist_ok=True)
        for name, text in (mappings or {}).items():
            (tiny_shop / "mappings" / f"{name}.toml").write_text(text, encoding="utf-8")
        for name, text in files.items():
            (tiny_shop / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
        refreshed(tiny_shop)
        con = database.open_newest(tiny_shop)
        lost = "from intake.file where rows <> loaded + duplicate + set_aside + ignored"
        assert con.execute(lost).fetchall() == []
        return con

    return of


def test_a_receipt_with_sections_charges_and_subtotals(shop_of):
    con = shop_of(
        purchases="""date,receipt,supplier,item,category,quantity,amount
2026,,,,,,
Bought in March,,,,,,
05.03.,R1,Ost,white oak,,12 bf,120.00
05.03.,R1,Ost,casting epoxy,,2 gal,90.00
05.03.,R1,Ost,Freight,,,15.00
Subtotal,,,,,,225.00
31.03.,R2,Ost,screws,,100,20.00
Total,,,,,,245.00
"""
    )
    assert con.execute("select sum(amount_cents), sum(freight_cents) from records.purchases").fetchone() == (
        23000,
        1500,
    )
    assert con.execute("select distinct category from records.purchases order by all").fetchall() == [
        ("hardware",), ("resin",), ("wood",),
    ]  # fmt: skip
    reasons = con.execute("select row, reason from intake.ignored order by row").fetchall()
    assert reasons == [
        (1, "header"), (2, "section"), (3, "section"), (6, "freight of its receipt"), (7, "total"), (9, "total"),
    ]  # fmt: skip
    assert con.execute("select sum(cents) from cost.trace where from_place = 'receipt'").fetchone() == (24500,)


def test_a_deposit_among_sales_is_a_payment_and_no_sale(shop_of):
    con = shop_of(
        sales="""date,order_no,channel,product,quantity,price
2026-03-01,S1,market,Deposit,1,30.00
2026-03-05,S1,market,tray,1,80.00
2026-03-05,S1,market,Shipping,1,6.00
"""
    )
    assert con.execute("select price_cents, shipping_charged_cents from records.sales").fetchall() == [(8000, 600)]
    assert con.execute("select kind, amount_cents, order_no from records.payments").fetchall() == [
        ("deposit", 3000, "S1")
    ]


def test_a_bank_with_debit_and_credit(shop_of):
    con = shop_of(
        {
            "bank": 'files = "bank.csv"\nrecord = "payments"\n[columns]\ndate = "Tag"\nkind = "Art"\n'
            '[helpers]\nmoney_out = "Soll"\nmoney_in = "Haben"\n'
        },
        bank="Tag,Art,Soll,Haben\n05.03.2026,supplier,119.00,\n06.03.2026,payout,,200.00\n31.03.2026,drawing,50,\n",
    )
    assert con.execute("select kind, amount_cents from records.payments order by on_date").fetchall() == [
        ("supplier", 11900), ("payout", 20000), ("drawing", 5000),
    ]  # fmt: skip


def test_tags_in_any_case_lead_to_one_piece(shop_of):
    con = shop_of(
        pieces="piece,product,length,finished\nsb-002,board,30 x 20 x 2 cm,2026-03-05\n",
        hours='date,person,hours,operation\n2026-03-05,Ada,1.5,"Sanding Sb-002, dp-001"\n'
        "2026-03-05,Ada,1,sanding SB-002\n",
        sales="date,channel,piece,price\n2026-03-06,market,sb-002,80\n",
        inspections="date,piece,defect\n2026-03-06,sB-002,none\n",
    )
    assert con.execute("select piece, length_um, width_um, thickness_um from records.pieces").fetchall() == [
        ("SB-002", 300_000, 200_000, 20_000)
    ]
    assert con.execute("select distinct piece from records.hours_piece").fetchall() == [("SB-002",)]
    assert con.execute("select tag from intake.unlinked").fetchall() == [("DP-001",)]
    told = con.execute("select piece from records.sales union all select piece from records.inspections")
    assert told.fetchall() == [("SB-002",), ("SB-002",)]


def test_a_category_that_another_row_or_the_supplier_tells(shop_of):
    con = shop_of(
        mine="""date,receipt,supplier,item,category,amount
2026-03-01,R1,Ost,zwirbel,hardware,1
2026-03-02,R2,Nord,knorpel,finish,1
2026-03-03,R3,Nord,zopf,finish,1
2026-03-04,R4,Nord,kamm,finish,1
2026-03-05,R5,Ost,mal so,hardware,1
2026-03-06,R6,Ost,mal so,tool,1
""",
        other="""date,receipt,supplier,item,category,amount
2026-03-11,R11,West,Zwirbel,,1
2026-03-12,R12,Nord,stift,,1
2026-03-13,R13,West,mal so,,1
2026-03-14,R14,Ost,krabbe,,1
2026-03-15,R15,Nord,,,1
""",
    )
    loaded = con.execute("select item, category from records.purchases where on_date > '2026-03-10' order by on_date")
    assert loaded.fetchall() == [("zwirbel", "hardware"), ("stift", "finish")]
    assert con.execute("select row, field from intake.rejected order by row").fetchall() == [
        (4, "category"), (5, "category"), (6, "item"),
    ]  # fmt: skip


STANDARDS = Path(__file__).parents[1] / "readers" / "standards"


def test_statements_and_invoices_of_open_standards_come_in_by_themselves(tiny_shop: Path, shop_of):
    for name in ("statement", "ubl", "cii"):
        shutil.copy(STANDARDS / f"{name}.xml", tiny_shop / "inbox")
    con = shop_of()
    # lines 62.00 and 31.00, freight 12.00 less 5.00, tax 21.00; 20.00 and 4.20 of tax went back: by EN 16931's BR-CO-15
    bought = "select category, amount_cents, freight_cents, discount_cents, tax_cents, quantity, quantity_unit"
    assert con.execute(f"{bought} from records.purchases order by on_date, amount_cents desc").fetchall() == [
        ("wood", 6200, 1200, 500, 2100, 31_000_000, "mm3"),
        ("resin", 3100, None, None, None, 1_500_000, "mg"),
        ("wood", -2000, None, None, -420, -10_000_000, "mm3"),
    ]
    landed = "select sum(cents) from cost.entry where place = 'receipt'"
    assert con.execute(landed).fetchone() == (-(12100 - 2420),)
    paid = "select kind, amount_cents, receipt, balance_cents from records.payments order by on_date, balance_cents"
    assert con.execute(paid).fetchall() == [
        ("payout", 12100, None, 112100),
        ("payout", 12100, None, 124200),
        ("supplier", 11995, "R-881", 112205),
        ("payout", 14940, None, 127145),
    ]
    assert (
        con.execute("select file, how from intake.file where how <> 'canonical' and file like '%.xml'").fetchall() == []
    )


def test_the_same_statement_twice_counts_once(tiny_shop: Path, shop_of):
    for name in ("october", "october again"):
        shutil.copy(STANDARDS / "statement.xml", tiny_shop / "inbox" / f"{name}.xml")
    con = shop_of()
    assert con.execute("select count(*), sum(amount_cents) from records.payments").fetchone() == (4, 51135)


BANK = "date,kind,amount,balance,note\n2026-03-02,supplier,100,900,glue\n"
AND_BACK = "2026-03-02,refund,100,1000,glue\n2026-03-02,supplier,100,900,glue\n"


@pytest.mark.parametrize(
    ("other", "count"),
    [
        ("2026-03-03,supplier,50,850,tape\n", 4),  # overlaps in one row
        ("2026-03-02,supplier,100,800,glue\n", 4),  # another payment alike: the balance went on
        ("", 3),
    ],
)
def test_exports_that_overlap_are_told_by_their_balance_row_by_row(shop_of, other: str, count: int):
    con = shop_of(first=BANK + AND_BACK, second=BANK + other)
    assert con.execute("select count(*) from records.payments").fetchone() == (count,)


def test_another_currency_than_the_shop_s_is_set_aside(tiny_shop: Path, shop_of):
    statement = (STANDARDS / "statement.xml").read_text(encoding="utf-8")
    (tiny_shop / "inbox" / "statement.xml").write_text(statement.replace("EUR", "SEK"), encoding="utf-8")
    con = shop_of()
    assert con.execute("select count(*) from records.payments").fetchone() == (0,)
    assert con.execute("select count(*) from intake.rejected where file like '%statement.xml'").fetchone() == (4,)


def test_a_paper_is_kept_and_no_bad_file(tiny_shop: Path, shop_of):
    for name in ("R-881.jpg", "scan.PNG"):
        (tiny_shop / "inbox" / name).write_bytes(b"\xff\xd8\xff")
    con = shop_of()
    papers = "select how, rows, message from intake.file where lower(file) similar to '.*(jpg|png)'"
    assert [(how, rows, "kept as paper" in said) for how, rows, said in con.execute(papers).fetchall()] == [
        ("ignored", 0, True),
        ("ignored", 0, True),
    ]


def test_a_category_told_by_the_words_of_an_item_is_listed_as_likely(shop_of):
    con = shop_of(
        purchases="date,receipt,item,category,amount\n2026-03-01,R1,resin course,,90\n2026-03-02,R2,resin course,,9\n"
        "2026-03-03,R3,oil stone,,8\n2026-03-04,R4,oil can,tool,7\n"
    )
    told = con.execute("select vocabulary, word, taken, rows from intake.likely_word order by word").fetchall()
    assert told == [("category", "oil stone", "finish", 1), ("category", "resin course", "resin", 2)]


@pytest.mark.parametrize("told", ["", "rest", "said"])
def test_a_channel_by_the_name_of_the_file_is_told_with_a_mapping_as_without(shop_of, told):
    """Where the mapping itself says the channel, nothing was taken from the name."""
    columns = '[columns]\ndate = "date"\nproduct = "product"\nprice = "price"\n'
    said = {"rest": 'rest = "ask"\n' + columns, "said": columns + '[constants]\nchannel = "market"\n'}
    mappings = {"sold": f'files = "*market*"\nrecord = "sales"\n{said[told]}'} if told else {}
    rows = "2026-03-01,tray,45.00\n2026-03-02,board,60.00\n2026-03-02,bowl,80.00\n"
    con = shop_of(mappings, **{"sales at the spring market": f"date,product,price\n{rows}"})
    assert con.execute("select channel, count(*) from records.sales group by all").fetchall() == [("market", 3)]
    listed = con.execute("select vocabulary, taken, rows from intake.likely_word").fetchall()
    assert listed == ([] if told == "said" else [("channel", "market", 3)])


def test_kinds_given_to_some_rows_are_told_with_their_number(shop_of):
    con = shop_of(
        {
            "bank": 'files = "bank.csv"\nrecord = "payments"\n[columns]\ndate = "date"\nkind = "kind"\n'
            'note = "note"\namount = "amount"\n[signs]\namount = "out"\n'
        },
        bank="date,kind,note,amount\n2026-01-05,tax,t,-5\n2026-01-06,,bill,-6\n2026-01-07,,takings,70\n",
    )
    told = con.execute("select vocabulary, taken, rows from intake.likely_word").fetchall()
    assert told == [("kind", "payout if it came in, supplier if it went out", 2)]


def test_sales_of_which_nothing_says_where_are_in_and_asked_about(shop_of):
    con = shop_of(
        sold="date,what,how many,each,card fee\n2026-03-02,spoon,2,34.00,1.14\n2026-03-09,bowl,1,185.00,5.52\n"
        "2026-03-16,board,1,145.00,4.36\n2026-03-23,spoon,1,34.00,1.02\n2026-03-24,tray,1,60.00,1.80\n",
        spent="date,what,how much\n2026-03-02,spoon,2\n",
    )
    assert con.execute("select channel, sum(price_cents * quantity) from records.sales group by 1").fetchall() == [
        ("not told", 49200)
    ]
    asked = con.execute("select ask, holds, rows from intake.question where ask like '%channel%'").fetchall()
    assert [(holds, rows) for _, holds, rows in asked] == [("money", 5)]
    assert "No column is the channel that sales need" in asked[0][0]


def test_lists_of_nothing_are_passed_over_and_listed_unless_money_or_tags_hang_on_them(shop_of):
    con = shop_of(
        birthdays="who,day\nMa,Feb 11\nUncle Ren,Jul 3\nTilly,10/30\n",
        ideas="things to try someday,\nresin mushroom shelf,\nchess board end grain,\nframe for mom,\n",
        van="Thing,Done?\nMOT,y\nnew wipers,\nroof rack,ask Col\n",
        pieces="piece,product,finished\nT-101,tray,2026-02-03\nT-102,board,2026-02-04\nT-103,bowl,2026-02-09\n",
        owed="who,what\nthe gallery,$40 for the glass\nRen,$12\n",
        shelf="thing,where\nT-101,left\nT-103,window\n",
        zakupy="kiedy,gdzie,co,ile\n2026-01-05,tartak,deska,12\n2026-01-09,sklep,klej,3\n2026-02-02,tartak,bal,1\n",
        wymiary="co,dlugosc,szerokosc\ndeska,120,30\nbal,200,40\nklej,1,2\n",
    )
    told = con.execute("select file, how from intake.file where how <> 'canonical' and rows > 0 order by 1").fetchall()
    assert told == [
        ("inbox/birthdays.csv", "ignored"), ("inbox/ideas.csv", "ignored"), ("inbox/owed.csv", "unmapped"),
        ("inbox/shelf.csv", "unmapped"), ("inbox/van.csv", "ignored"),
        # days and numbers may be anything in words that nobody here knows
        ("inbox/wymiary.csv", "unmapped"), ("inbox/zakupy.csv", "unmapped"),
    ]  # fmt: skip
    asked = con.execute("select distinct file from intake.question_file order by 1").fetchall()
    assert asked == [(f"inbox/{name}.csv",) for name in ("owed", "shelf", "wymiary", "zakupy")]
    assert con.execute("select count(*) from intake.ignored where reason = 'holds no record'").fetchone() == (9,)
    assert con.execute("select distinct why from intake.column where file = 'inbox/van.csv'").fetchall() == [
        ("no field is like it",)
    ]
