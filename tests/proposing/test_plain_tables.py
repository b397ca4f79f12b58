"""Plain tables of a few rows, as a shop begins with. Which headers people write: common practice, no source."""

from pathlib import Path

import pytest

from pipeline.database.open_database import opened
from pipeline.proposing import proposal
from pipeline.shop import load
from tests.refreshed import refreshed

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


def test_work_from_and_to_is_hours_however_its_clock_is_written(tiny_shop: Path) -> None:
    text = (
        "Day,Piece,From,To,Doing\n3/7/26,HF-03,9:30a,12:30p,milling\n3/8/26,HF2,8:30a,10:45a,milling\n"
        "3/19/26,HF-02,8a,9:45a,sanding\n3/20/26,hf 04,8:00a,8:45a,milling\n3/21/26,HF3,9:45a,1:00p,carving\n"
    )
    found = proposed(tiny_shop, "shop time.csv", text)
    assert (found.mapping.record, found.questions) == ("hours", ())
    assert found.mapping.columns == {
        "date": "Day", "pieces": "Piece", "started_at": "From", "ended_at": "To", "operation": "Doing",
    }  # fmt: skip
    assert found.preview.loaded == 5


def test_days_are_known_by_what_stands_above_them_in_titles_and_names(tiny_shop: Path) -> None:
    """A count's day in its title, days of the month below headings of months, days without a year in a column “Tag”."""
    counted = "Gezählt am 31.3.2026;;\nWas;Wieviel;Wert\nNussbaum Rest;0.03 m3;430\nGiessharz;14 kg;360\n"
    found = proposed(tiny_shop, "Lager.csv", counted)
    assert (found.mapping.record, found.mapping.constants, found.preview.loaded) == (
        "counts", {"date": "31.3.2026"}, 2,
    )  # fmt: skip
    by_month = (
        "Achats,,,\nSEPTEMBRE 2025,,,\njour,chez,quoi,payé\n5,Scierie,plateau noyer,312.00\n"
        "12,Quincaillerie,vis,14.80\n"
        "OCTOBRE 2025,,,\n3,Quincaillerie,vis laiton,57.35\n22,Droguerie,huile de lin,43.90\n"
    )
    found = proposed(tiny_shop, "achats.csv", by_month)
    assert (found.mapping.record, found.questions, found.preview.loaded) == ("purchases", (), 4)
    poured = "Tag;Harz g;Härter g;Rest g\n16.1.;700;350;40\n28.1.;3100;1550;0\n30.1.;2800;1400;210\n"
    found = proposed(tiny_shop, "Güsse 2026.csv", poured)
    assert (found.mapping.record, found.questions, found.preview.loaded) == ("pours", (), 3)


def test_a_total_of_the_row_is_the_price_of_a_sale_that_has_no_other(tiny_shop: Path) -> None:
    text = (
        "Datum;Wo;Was;Anzahl;Total €\n1.2.2026;Markt;Schneidbrett;2;€ 180.–\n15.2.2026;Laden;Griff;1;€ 140.–\n"
        "8.3.2026;Auftrag;Tisch;1;€ 2'850.–\n22.3.2026;Markt;Tablett;1;€ 220.–\n"
    )
    found = proposed(tiny_shop, "Verkauf.csv", text)
    assert (found.mapping.record, found.mapping.price_for, found.questions) == ("sales", "row", ())
    assert found.preview.loaded == 4


def test_hours_with_a_column_for_each_person_or_each_kind_of_work(tiny_shop: Path) -> None:
    text = (
        "date,what,job,Wren h,Oskar h\n2026-03-02,2312,sand,2.5,\n2026-03-03,2312,sand,1,1.25\n"
        "2026-03-04,2313,carve,,0.75\n2026-03-05,2313,carve,0,3\n2026-03-06,2313,carve,,\n"
    )
    found = proposed(tiny_shop, "times.csv", text)
    assert (found.mapping.record, found.mapping.spread_over, found.preview.loaded) == ("hours", "person", 5)
    assert found.mapping.spread == {"Wren h": "Wren", "Oskar h": "Oskar"}
    assert found.questions == ()
    text = "Tag;Sägen (min);Schleifen (min)\n2026-03-02;30;\n2026-03-03;45;90\n2026-03-04;;15\n2026-03-09;20;10\n"
    found = proposed(tiny_shop, "zeiten.csv", text)
    assert (found.mapping.record, found.mapping.spread_over, found.preview.loaded) == ("hours", "operation", 6)
    refreshed(tiny_shop)
    with opened(tiny_shop) as con:
        done = con.execute("select person, sum(seconds) from records.hours group by 1 order by 1").fetchall()
        assert done == [("Oskar", 5 * 3600), ("Wren", 3.5 * 3600), (None, 210 * 60)]
        lost = "from intake.file where rows <> loaded + duplicate + set_aside + ignored"
        assert con.execute(lost).fetchall() == []
        aside = con.execute("select row, code, field from intake.rejected").fetchall()
        assert aside == [(6, "hours", "hours")]


def test_a_log_of_several_records_is_asked_about_and_taken_for_none_of_them(tiny_shop: Path) -> None:
    text = (
        "date,kind,what,qty,$\n2026-03-02,Bought,oak board,1,30\n2026-03-02,hours,sanding,2.5,\n"
        "2026-03-03,pour,river,1.2,\n2026-03-03,used,sanding discs,5,\n2026-03-04,sold,tray,1,45\n"
    )
    found = proposed(tiny_shop, "log.csv", text)
    assert not found.used
    assert "“kind” says that its rows are several records" in found.questions[0].ask


def test_a_day_alone_is_no_pour(tiny_shop: Path) -> None:
    found = proposed(tiny_shop, "dates.csv", "prénom,jour\nZoé,2 juillet\nIda,14 mars\nAl,30 novembre\n")
    assert found.mapping.record != "pours"
    assert not found.used


def test_a_piece_in_words_stands_where_its_shop_says_and_is_in_millimetres(tiny_shop: Path) -> None:
    text = (
        "Tag,Piece,Wood,Size,Started,Done,Where is it\nH-201,board,oak,880 x 220 x 40,2026-01-05,2026-01-11,sold\n"
        "H-202,panel,walnut,760 x 380 x 38,2026-01-05,2026-01-28,Lantern Gallery\n"
        "H-203,board,cherry,510 x 200 x 25,2026-01-09,2026-01-23,scrapped - delaminated\n"
        "H-204,clock,oak,Ø380 x 25,2026-01-09,,in progress\n"
        "H-205,table,elm,1060 x 560 x 45,2026-01-09,2026-01-29,for sale\n"
    )
    found = proposed(tiny_shop, "pieces.csv", text)
    assert (found.mapping.columns["piece"], found.mapping.columns["product"]) == ("Tag", "Piece")
    (tiny_shop / "inbox" / "flaws.csv").write_text(
        "Found,Tag,Problem,What I did\n2026-02-01,H-201,streaky,buffed\n2026-02-02,H-202,bubbles,filled\n"
        "2026-02-03,H-203,tape line left,sanded\n2026-02-05,H-204,rocks,planed\n2026-02-09,H-205,swirls,resand\n",
        encoding="utf-8",
    )
    (tiny_shop / "inbox" / "work.csv").write_text(
        "Day,Thingy,Job,Mins\n2026-01-06,H-201,sanding,30\n2026-01-07,H-202,sanding,45\n2026-01-08,H-203,oiling,20\n"
        "2026-01-09,H-204,sanding,15\n2026-01-12,H-205,sanding,50\n",
        encoding="utf-8",
    )
    refreshed(tiny_shop)
    with opened(tiny_shop) as con:
        rows = con.execute("select piece, length_um, status, note from records.pieces order by piece").fetchall()
        assert rows == [
            ("H-201", 880_000, "finished", None), ("H-202", 760_000, None, "Lantern Gallery"),
            ("H-203", 510_000, "scrapped", "scrapped - delaminated"), ("H-204", None, "in progress", None),
            ("H-205", 1_060_000, "finished", None),
        ]  # fmt: skip
        assert con.execute("select count(*) from records.inspections where piece like 'H-%'").fetchone() == (5,)
        # a column that nothing knows is the piece, since other files have its tags
        assert con.execute("select count(*) from records.hours_piece").fetchone() == (5,)


def test_wood_alone_and_whole_numbers_need_no_item_and_no_unit(tiny_shop: Path) -> None:
    wood = (
        "Date,Yard,Species,Bd Ft,Total\n2026-01-17,Mill,hard maple,9.3,74.21\n2026-01-20,Mill,walnut,27.5,343.75\n"
        "2026-01-23,Barn,cherry,34.7,234.23\n2026-01-24,Barn,oak,26.7,190.91\n2026-01-26,Barn,ash,23.3,186.40\n"
    )
    found = proposed(tiny_shop, "lumber.csv", wood)
    assert (found.mapping.record, found.mapping.columns["item"], found.preview.loaded) == ("purchases", "Species", 5)
    lines = "".join(f"2026-01-0{day},Ost,hardwax oil,{day},finish,10.50\n" for day in range(1, 7))
    found = proposed(tiny_shop, "supplies.csv", f"Date,Store,Item,Qty,Type,Subtotal\n{lines}")
    assert found.preview.loaded == 6


def test_days_with_their_weekday_below_a_month_and_days_past_december(tiny_shop: Path) -> None:
    text = (
        "TIME,,,\nApril 2025,,,\nDay,Job,Gwen,Tom\nTue 1,sanding,1:00:00,\nThu 3,sanding,,0:30:00\n"
        "Mon 7,oiling,1:30:00,0:30:00\nTue 8,pour,0:45:00,\nWed 9,sanding,,2:00:00\n"
    )
    found = proposed(tiny_shop, "time.csv", text)
    assert (found.mapping.spread_over, found.preview.loaded) == ("person", 6)
    (tiny_shop / "inbox" / "pours 2025.csv").write_text(
        "Date,Base (g),Hardener (g)\n7/4,505,252\n14/11,410,205\n16/12,635,317\n6/1,125,62\n12/2,50,25\n",
        encoding="utf-8",
    )
    refreshed(tiny_shop)
    with opened(tiny_shop) as con:
        days = [str(day) for (day,) in con.execute("select distinct on_date from records.hours order by 1").fetchall()]
        assert days == ["2025-04-01", "2025-04-03", "2025-04-07", "2025-04-08", "2025-04-09"]
        poured = [str(day) for (day,) in con.execute("select on_date from records.pours order by 1").fetchall()]
        assert poured == ["2025-04-07", "2025-11-14", "2025-12-16", "2026-01-06", "2026-02-12"]
