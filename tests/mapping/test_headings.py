"""A settled mapping belongs to its headings: next year's file, of any name, is read by it, and the refresh says so."""

from pathlib import Path

import pytest

from pipeline import mapping
from pipeline.proposing import proposal
from pipeline.refresh.read_files import FilesRead, read_files
from pipeline.shop import Shop, load

HEAD = "Zwick,Zwack,Wo,Summe\n"
OLD = HEAD + "2025-03-01,tray,market,45.00\n2025-03-02,bowl,online,60.00\n"
NEW = HEAD + "2026-03-14,tray,online,50.00\n"
ANSWERS = proposal.Answers("sales", {"date": "Zwick", "product": "Zwack", "channel": "Wo", "price": "Summe"})


@pytest.fixture
def shop(tiny_shop: Path) -> Shop:
    (tiny_shop / "inbox" / "2025.csv").write_text(OLD, encoding="utf-8")
    shop = load(tiny_shop)
    proposal.save(shop, proposal.settled(shop, Path("inbox/2025.csv"), "", ANSWERS))
    return shop


def put(shop: Shop, name: str, text: str) -> None:
    (shop.folder / "inbox" / name).write_text(text, encoding="utf-8")


def read(shop: Shop) -> FilesRead:
    return read_files(shop, lambda _: None)


def entry(shop: Shop, name: str) -> dict[str, object]:
    return next(each for each in read(shop).files if each["file"] == f"inbox/{name}")


def test_a_file_with_the_same_headings_is_read_by_the_mapping_and_says_so(shop: Shop) -> None:
    put(shop, "what I sold.csv", NEW)
    found = entry(shop, "what I sold.csv")
    assert (found["how"], found["record"], found["mapping"]) == ("mapping file", "sales", "2025")
    assert found["message"] == "It has the same headings as the table that mappings/2025.toml was settled for."
    assert entry(shop, "2025.csv")["message"] is None
    (cleaned,) = [each for each in read(shop).cleaned if each.frame["file"].eq("inbox/what I sold.csv").any()]
    assert cleaned.frame.select("price_cents", "product").rows() == [(5000, "tray")]


def test_the_order_of_the_columns_their_case_and_the_file_of_old_are_no_matter(shop: Shop) -> None:
    (shop.folder / "inbox" / "2025.csv").unlink()
    put(shop, "2026.csv", "SUMME;wo;Zwack;zwick\n50,00;online;tray;2026-03-14\n")
    assert entry(shop, "2026.csv")["mapping"] == "2025"
    assert not [reason for each in read(shop).ignored for reason in each["reason"] if "fits no file" in reason]


def test_one_heading_more_is_another_table(shop: Shop) -> None:
    put(shop, "2026.csv", "Zwick,Zwack,Wo,Summe,Mehr\n2026-03-14,tray,online,50.00,1\n")
    assert entry(shop, "2026.csv")["mapping"] != "2025"


def test_two_mappings_of_the_same_headings_that_say_other_things_settle_nothing(shop: Shop) -> None:
    put(shop, "other.csv", OLD)
    other = proposal.Answers("sales", {**ANSWERS.columns, "product": "", "note": "Zwack"})
    proposal.save(shop, proposal.settled(shop, Path("inbox/other.csv"), "", other))
    put(shop, "2026.csv", NEW)
    assert entry(shop, "2026.csv")["mapping"] not in ("2025", "other")


def test_a_sheet_is_settled_by_its_headings_too(shop: Shop) -> None:
    import xlsxwriter

    with xlsxwriter.Workbook(str(shop.folder / "inbox" / "book.xlsx")) as book:
        for name, text in (("Spring", NEW), ("Plain", "date,item,quantity\n2026-03-01,oil,1 l\n")):
            sheet = book.add_worksheet(name)
            for row, line in enumerate(text.splitlines()):
                sheet.write_row(row, 0, line.split(","))
    found = {each["sheet"]: each["mapping"] for each in read(shop).files if each["file"] == "inbox/book.xlsx"}
    assert found["Spring"] == "2025" and found["Plain"] != "2025"


def test_the_mapping_file_names_its_headings(shop: Shop) -> None:
    (found,) = mapping.load(shop.path("mappings"))
    assert found.headings == ("Zwick", "Zwack", "Wo", "Summe")
    assert mapping.checked("again", mapping.dump(found), Path("again.toml")).headings == found.headings
