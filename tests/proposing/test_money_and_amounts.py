"""Columns of money and of amounts that say by themselves, or by their neighbours, what they are. Which headers people
write, how a card reader and a gallery settle, that a till's total holds the tax: common practice, no source."""

from pathlib import Path

from pipeline.asking.answer import answer
from pipeline.database.open_database import opened
from pipeline.proposing import proposal
from pipeline.shop import load
from tests.refreshed import refreshed


def proposed(shop: Path, name: str, text: str) -> proposal.Proposal:
    (shop / "inbox" / name).write_text(text, encoding="utf-8")
    (found,) = proposal.propose(load(shop), shop / "inbox" / name)
    return found


def rows(*cells: str) -> str:
    return "".join(f"{row}\n" for row in cells)


TAKEN = ((36.00, 0.58), (45.00, 0.72), (22.00, 0.35), (24.00, 0.38), (175.00, 2.80), (90.00, 1.44))


def test_what_was_taken_its_fee_and_the_rest_are_money_paid_in_or_what_was_sold(tiny_shop: Path) -> None:
    settled = [
        (f"2026-03-{day:02}", f"{gross:.2f},{fee:.2f},{gross - fee:.2f}") for day, (gross, fee) in enumerate(TAKEN, 3)
    ]
    lines = (f"{day},TM{number}7,{money}" for number, (day, money) in enumerate(settled))
    found = proposed(tiny_shop, "terminal.csv", rows("Settled,Ref,Amount,Card charge,Net", *lines))
    assert (found.mapping.record, found.mapping.columns["amount"], found.questions) == ("payments", "Amount", ())
    lines = (f"{day},{'Refund' if '22.00' in money else 'Charge'},{money}" for day, money in settled)
    found = proposed(tiny_shop, "card reader.csv", rows("Date,Kind,Amount,Fee,Net", *lines))
    assert (found.mapping.record, found.mapping.columns["kind"], found.preview.loaded) == ("payments", "Kind", 6)
    lines = (f"{day},tray,{money}" for day, money in settled)
    sold = rows("Date sold,Description,Sold for,Comm 35%,Due to you", *lines)
    found = proposed(tiny_shop, "gallery.csv", sold)
    assert (found.mapping.record, found.mapping.columns["price"]) == ("sales", "Sold for")
    assert found.mapping.columns["channel_fee"] == "Comm 35%"


TILL = rows(
    "Receipt,Date,Time,Item,Qty,Total inc VAT,of which VAT",
    "191,06/12/2026,10:10,bread board,1,66.00,11.00",
    "192,06/12/2026,10:21,carved fish,1,288.00,48.00",
    "193,13/12/2026,10:30,coaster,2,15.00,2.50",
    "194,13/12/2026,10:30,coaster,4,30.00,5.00",
    "195,14/12/2026,11:30,keyring,2,10.00,1.67",
    "196,14/12/2026,12:30,tray,1,72.00,12.00",
)


def test_a_total_whose_tax_stands_beside_it_asks_for_nothing(tiny_shop: Path) -> None:
    found = proposed(tiny_shop, "market till.csv", TILL)
    assert (found.mapping.record, found.questions) == ("sales", ())
    assert (found.mapping.tax_included, found.mapping.price_for) == (True, "row")
    # without it nothing proves what is in the total
    found = proposed(tiny_shop, "market.csv", rows(*(line.rpartition(",")[0] for line in TILL.splitlines())))
    assert "taxed" in {question.kind for question in found.questions}


def test_a_column_called_by_the_mark_of_a_currency_is_asked_about_its_tax(tiny_shop: Path) -> None:
    text = rows(
        "Date,Item,Qty,$,Where",
        *(f"2026-03-{day:02},tray,{day % 3 + 1},{day * 17}.50,market" for day in range(3, 12)),
    )
    found = proposed(tiny_shop, "sold.csv", text)
    assert found.mapping.record == "sales"
    assert {"each", "taxed"} <= {question.kind for question in found.questions}


def test_words_of_resins_say_which_was_poured_and_not_what_for(tiny_shop: Path) -> None:
    lines = (f"2026-03-{day:02},T-{day},{'deep pour' if day % 2 else 'table top'},{day}0,{day}5" for day in range(1, 9))
    found = proposed(tiny_shop, "pours.csv", rows("Date,Piece,What,Part A (ml),Part B (ml)", *lines))
    assert (found.mapping.record, found.mapping.columns["resin"], found.questions) == ("pours", "What", ())
    named = rows(
        "Date,Piece,Purpose,Part A (ml),Part B (ml)", "2026-03-02,T-1,casting,20,10", "2026-03-03,T-2,flood,20,10"
    )
    assert proposed(tiny_shop, "pour log.csv", named).mapping.columns["purpose"] == "Purpose"


def test_both_parts_of_a_mix_may_stand_in_one_cell(tiny_shop: Path) -> None:
    lines = (f"2026-03-{day:02},T-{day},deep pour,{day * 20}+{day * 10},ml" for day in range(1, 7))
    found = proposed(tiny_shop, "pours.csv", rows("Date,Piece,What,Qty,Unit", *lines))
    assert (found.mapping.record, found.mapping.columns["part_a"], found.questions) == ("pours", "Qty", ())
    (tiny_shop / "inbox" / "pieces.csv").write_text(PIECES, encoding="utf-8")
    refreshed(tiny_shop)
    with opened(tiny_shop) as con:
        mixed = con.execute("select part_a, part_b from records.pours order by on_date").fetchall()
    assert mixed == [(day * 20_000, day * 10_000) for day in range(1, 7)]


USED = rows(
    "Make,Finished,Oil ml,Discs P80,Discs P120,Movement,Box",
    "T-1,2026-04-14,20,,2,,",
    "T-2,2026-04-15,60,2,3,1,1",
    "T-3,2026-04-16,40,2,1,,",
    "T-4,2026-04-20,,,,,1",
    "T-5,2026-04-21,25,,1,1,",
)
POURS = rows(
    "Date,Piece,Resin,Part A (oz),Part B (oz),Left in cup (oz)",
    "2026-03-02,T-1,clear,4,2,1",
    "2026-03-02,T-2 & T-3,clear,8,4,",
    "2026-03-03,T-4,clear,3,1.5,0.5",
    "2026-03-04,T-5,clear,2,1,",
    "2026-03-06,T-2 + T-3,clear,6,3,",
)
PIECES = rows("piece,product,started", *(f"T-{n},board,2026-03-01" for n in range(1, 6)))


def test_amounts_by_item_and_pours_over_several_pieces(tiny_shop: Path) -> None:
    for name, text in (("used.csv", USED), ("pours.csv", POURS), ("pieces.csv", PIECES)):
        (tiny_shop / "inbox" / name).write_text(text, encoding="utf-8")
    refreshed(tiny_shop)
    with opened(tiny_shop) as con:
        used = "select item, sum(quantity), quantity_unit, count(*) from records.usage group by all order by all"
        assert con.execute(used).fetchall() == [
            ("box", 2000, "each", 2),
            ("discs p120", 7000, "each", 4),
            ("discs p80", 4000, "each", 2),
            ("movement", 2000, "each", 2),
            ("oil", 145_000, "ul", 4),
        ]
        # ounces of resin may be by weight, or of a measuring cup: nothing is taken for either
        assert con.execute("select count(*) from records.pours").fetchone() == (0,)
        ((name,),) = con.execute("select question from intake.question where kind = 'ounces'").fetchall()
    answer(tiny_shop, name, 1)
    refreshed(tiny_shop)
    with opened(tiny_shop) as con:
        poured = con.execute(
            "select pour, array_agg(piece order by piece), min(part_a), max(part_a) from records.pours group by 1"
        )
        found = sorted((pieces, low, high) for _, pieces, low, high in poured.fetchall())
        # NIST SP 811 (2008), appendix B.8: 1 US fl oz = 29.573 529 562 5 ml
        assert found == [
            (["T-1"], 118_294, 118_294),
            (["T-2", "T-3"], 177_441, 177_441),
            (["T-2", "T-3"], 236_588, 236_588),
            (["T-4"], 88_721, 88_721),
            (["T-5"], 59_147, 59_147),
        ]
        assert con.execute("select * from intake.question where kind = 'ounces'").fetchall() == []
        lost = "from intake.file where rows <> loaded + duplicate + set_aside + ignored"
        assert con.execute(lost).fetchall() == []
