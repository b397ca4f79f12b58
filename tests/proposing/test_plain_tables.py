"""Plain tables of a few rows, as a shop begins with. Which headers people write: common practice, no source."""

from pathlib import Path

import pytest

from pipeline.proposing import proposal
from pipeline.shop import load

RECEIPTS = """Date,Supplier,Item,Category,Quantity,Unit,{total}
2026-10-03,Timber yard,Oak board,wood,12,bf,96.00
2026-10-04,Coating shop,Clear resin kit,resin,3,kg,{first}
2026-10-04,Coating shop,Hardwax oil,finish,1,l,{second}
2026-11-02,Sundries,Sanding discs,abrasive,50,each,22.00
"""


def proposed(shop: Path, name: str, text: str) -> proposal.Proposal:
    (shop / "inbox" / name).write_text(text, encoding="utf-8")
    (found,) = proposal.propose(load(shop), shop / "inbox" / name)
    return found


@pytest.mark.parametrize("total", ["Total", "Gesamt"])
def test_a_total_of_each_row_is_its_amount(tiny_shop: Path, total: str) -> None:
    found = proposed(tiny_shop, "receipts.csv", RECEIPTS.format(total=total, first="72.00", second="41.50"))
    assert (found.mapping.record, found.questions) == ("purchases", ())
    assert found.mapping.columns["amount"] == total
    assert found.used is not None


def test_a_total_that_the_rows_of_a_receipt_repeat_is_the_receipts(tiny_shop: Path) -> None:
    found = proposed(tiny_shop, "receipts.csv", RECEIPTS.format(total="Total", first="113.50", second="113.50"))
    assert "amount" not in found.mapping.columns
    (question,) = found.questions
    # whatever it was taken for, the column is among the answers
    assert "“Total”" in [choice.label for choice in question.choices]


def test_what_is_called_by_the_field_comes_before_what_is_called_a_name(tiny_shop: Path) -> None:
    text = "Tag,Name,Product,Wood,Started\nAR-1,River,tray,walnut,2026-10-10\nAR-2,Plain,board,walnut,2026-10-12\n"
    found = proposed(tiny_shop, "pieces.csv", text)
    assert found.mapping.columns["product"] == "Product"
    assert "which" not in {question.kind for question in found.questions}
    alone = proposed(tiny_shop, "things.csv", text.replace(",Product", "").replace(",tray", "").replace(",board", ""))
    assert alone.mapping.columns["product"] == "Name"


def test_a_column_of_channels_is_known_by_what_stands_in_it(tiny_shop: Path) -> None:
    text = (
        "Sold on,Zib,Piece,Price\n2026-03-01,market,T-1,45\n2026-03-02,online,T-2,60\n2026-03-09,spring fair,T-3,60\n"
    )
    found = proposed(tiny_shop, "sold.csv", text)
    assert (found.mapping.record, found.mapping.columns["channel"], found.questions) == ("sales", "Zib", ())


def test_units_in_a_column_without_a_header_are_those_of_the_quantity(tiny_shop: Path) -> None:
    text = (
        "Date,Where,What,How many,,$\n2026-03-04,Timber yard,walnut boards,14.5,bf,199.38\n"
        "2026-03-04,Timber yard,maple boards,9,bf,64.80\n2026-03-11,Ironmonger,sanding discs,4,box,75.96\n"
        "2026-03-11,Ironmonger,hardwax oil,1,l,36.00\n"
    )
    found = proposed(tiny_shop, "bought.csv", text)
    assert found.mapping.columns["unit"] == "c4"
    assert "unit" in {column.field for column in found.columns}
    assert found.preview.loaded == 4
