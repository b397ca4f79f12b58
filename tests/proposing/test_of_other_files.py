"""What other files of the shop and answers given before say of a table: tags that recur, headers settled elsewhere."""

from dataclasses import replace
from pathlib import Path

import pytest

from pipeline.cleaning.recurring import share
from pipeline.mapping import Mapping
from pipeline.proposing import header_names
from pipeline.proposing.suggestion import suggest
from pipeline.proposing.taught_headers import taught_by
from pipeline.readers.reader_output import TextTable
from pipeline.reference import header_key
from pipeline.refresh.read_files import read_files
from pipeline.shop import Shop, load
from tests.proposing.test_evidence import table

PIECES = "Stück-Nr;Produkt;Fertig am\n" + "".join(f"W-{at:03};Tablett;{at + 10}.03.2026\n" for at in range(1, 13))
TRAYS = "Stück-Nr;Produkt\n" + "".join(f"W{at};Tablett\n" for at in range(1, 9))


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    (tmp_path / "inbox").mkdir()
    (tmp_path / "shop.toml").write_text('name = "A"\ncurrency = "EUR"\nstart = 2026-01-01\n', encoding="utf-8")
    return load(tmp_path)


def write(shop: Shop, **files: str) -> None:
    for name, text in files.items():
        (shop.folder / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")


def test_a_column_of_tags_that_stand_in_the_pieces_file_is_the_pieces(shop: Shop) -> None:
    """Minutes by a tag of the pieces' file are hours, whatever the columns are called."""
    rows = "".join(f"{at + 12}.03.2026;W-{at:03};schleifen;0:{at + 20}\n" for at in range(1, 9))
    write(shop, a=f"Zib;Vrel;Nux;Quor\n{rows}")
    alone = read_files(shop, lambda _: None)
    assert [each.question.kind for each in alone.asked]
    write(shop, b=PIECES)
    both = read_files(shop, lambda _: None)
    assert both.asked == []
    (hours,) = [each for each in both.cleaned if each.record == "hours"]
    assert hours.frame["pieces"].explode().to_list() == [f"W-{at:03}" for at in range(1, 9)]


def test_work_with_a_tag_that_looks_like_none_is_told_by_the_pieces_file(shop: Shop) -> None:
    rows = "".join(f"{at + 12}.03.2026;Schleifen W{at};1:00\n" for at in range(1, 9))
    write(
        shop,
        a=f"Tag;Tätigkeit;Stunden\n{rows}",
        b=TRAYS,
    )
    (hours,) = [each for each in read_files(shop, lambda _: None).cleaned if each.record == "hours"]
    assert hours.frame["operation"].unique().to_list() == ["sanding"]
    assert hours.frame["pieces"].explode().to_list() == [f"W{at}" for at in range(1, 9)]


def test_strange_work_beside_a_tag_on_record_is_asked_about_once_a_word(shop: Shop) -> None:
    """What one file lets in tells the next: the pieces come in by the orders that they name, the work by the pieces."""
    rows = "".join(f"{at + 12}.03.2026;{('lixar', 'colar')[at % 2]} W{at};1:00\n" for at in range(1, 9))
    write(
        shop,
        a=f"Dia;Tätigkeit;Zeit\n{rows}",
        b=TRAYS,
    )
    read = read_files(shop, lambda _: None)
    (hours,) = [each for each in read.cleaned if each.record == "hours"]
    assert hours.frame["pieces"].explode().to_list() == [f"W{at}" for at in range(1, 9)]
    assert sorted(at.question.ask for at in read.asked) == [f"What work is “{w}”?" for w in ("colar", "lixar")]


def test_where_no_column_tells_the_category_each_item_is_asked_about(shop: Shop) -> None:
    rows = [[f"{day}.03.2026", "Ost", f"zib{day % 2}", f"{day},50"] for day in range(13, 20)]
    found = suggest(table(["Datum", "Lieferant", "Artikel", "Betrag"], *rows), shop, "einkauf.csv")
    assert (found.record, found.questions) == ("purchases", ())
    write(shop, einkauf="Datum;Lieferant;Artikel;Betrag\n" + "".join(";".join(row) + "\n" for row in rows))
    asks = {at.question.ask for at in read_files(shop, lambda _: None).asked}
    assert asks == {"What is “zib0” used for?", "What is “zib1” used for?"}


def test_a_tag_is_known_by_how_it_is_written_where_no_other_is_written_so() -> None:
    seen = {"piece": frozenset({"W-001", "W-002"}), "order_no": frozenset({"A-17"})}
    assert share(["W-003", "W-004"], "piece", seen) > 0.5 > share(["A-18"], "piece", seen)
    assert share(["W-003"], "piece", seen | {"lot": frozenset({"W-900"})}) == 0
    assert share(["17", "18"], "piece", {"piece": frozenset({"16"})}) == 0


SALES = [[f"{day}.03.2026", "market", "tray", f"{day},00", f"{day / 8:.2f}".replace(".", ",")] for day in range(13, 22)]


def names(found) -> dict[str, str]:
    return {column.header: column.field for column in found.columns}


def till(header: str) -> TextTable:
    return table(["Datum", "Kanal", "Artikel", "Preis", header], *SALES)


def test_a_header_settled_in_one_table_is_that_in_another(shop: Shop) -> None:
    told = Mapping("till", "till.csv", record="sales", columns={"channel_fee": "Zwickel"}, left_out=("Vrel",))
    assert names(suggest(till("Zwickel"), shop, "web.csv"))["Zwickel"] == ""
    found = suggest(till("Zwickel"), shop, "web.csv", taught=taught_by([told]))
    assert (names(found)["Zwickel"], found.questions) == ("channel_fee", ())
    assert not suggest(till("Vrel"), shop, "web.csv", taught=taught_by([told])).questions
    two = taught_by([told, replace(told, columns={"payment_fee": "Zwickel"})])
    assert suggest(till("Zwickel"), shop, "web.csv", taught=two).questions


@pytest.mark.parametrize("header", ["MwSt", "mwst", "MWST", "MwSt.", "Mwst"])
def test_a_word_with_capitals_within_is_one_word(header: str) -> None:
    """MwSt is how German abbreviates the tax: no Mw of St."""
    assert header_key(header) == "mwst"
    assert header_names.weight(header, "purchases", "tax", "money") == header_names.KNOWN
    assert (header_key("OrderDate"), header_key("UoM")) == ("order date", "uom")


def test_days_of_the_week_are_of_no_use(shop: Shop) -> None:
    rows = [[*row[:4], day] for row, day in zip(SALES, ("lunes", "jueves", "sábado") * 3, strict=True)]
    found = suggest(table(["Datum", "Kanal", "Artikel", "Preis", "D. sem."], *rows), shop, "web.csv")
    assert (names(found)["D. sem."], found.questions) == ("", ())


def test_a_note_that_may_be_one_is_listed_and_not_asked_about(shop: Shop) -> None:
    rows = [[*row[:4], word] for row, word in zip(SALES, ("rain", "sun", "fog") * 3, strict=True)]
    found = suggest(table(["Datum", "Kanal", "Artikel", "Preis", "Zib"], *rows), shop, "web.csv")
    assert names(found)["Zib"] == ""
    assert not [question for question in found.questions if question.asked]


def test_a_table_whose_tags_another_lists_as_pieces_is_no_list_of_pieces(shop: Shop) -> None:
    """Orders that name the piece, and labels, say something of pieces; the list is that which has most of them."""
    rows = "".join(f"A-{at:02};{at + 12}.02.2026;Tablett;{at + 12}.03.2026;W-{at:03}\n" for at in range(1, 9))
    labels = "".join(f"W-{at:03};Tablett\n" for at in range(1, 9))
    write(shop, b=PIECES, auftraege=f"Auftrag;Eingang;Produkt;Termin;Werkstück\n{rows}", etiketten=f"Nr;Name\n{labels}")
    read = read_files(shop, lambda _: None)
    assert sorted((each.record, each.frame.height) for each in read.cleaned) == [("orders", 8), ("pieces", 12)]


def test_an_export_of_some_pieces_again_lists_pieces(shop: Shop) -> None:
    """What has the same headings is the same list from another day; so are lists that share no tag."""
    write(shop, b=PIECES, a="".join(PIECES.splitlines(keepends=True)[:6]), c=PIECES.replace("W-", "X-"))
    read = read_files(shop, lambda _: None)
    assert sorted((each.record, each.frame.height) for each in read.cleaned) == [("pieces", n) for n in (5, 12, 12)]


def test_a_table_settled_as_pieces_lists_them_though_another_has_more(shop: Shop) -> None:
    settled = 'files = "etiketten.csv"\nrecord = "pieces"\n[columns]\npiece = "Nr"\nproduct = "Name"\n'
    (shop.folder / "mappings").mkdir()
    (shop.folder / "mappings" / "etiketten.toml").write_text(settled, encoding="utf-8")
    labels = "".join(f"W-{at:03};Tablett\n" for at in range(1, 9))
    write(shop, b=PIECES, etiketten=f"Nr;Name\n{labels}")
    read = read_files(shop, lambda _: None)
    assert sorted((each.record, each.frame.height) for each in read.cleaned) == [("pieces", 8), ("pieces", 12)]


def test_tags_of_pieces_speak_against_a_record_that_names_none(shop: Shop) -> None:
    """A list of what was sold looks like one of what was bought, but for the pieces in it."""
    rows = [f"{at + 12}.03.2026;Abteihof;{f'W-{at:03}' if at % 2 else ''};Tablett;{at}9,50\n" for at in range(1, 12)]
    write(shop, a="Datum;Markt;Nr.;Artikel;Netto\n" + "".join(rows), b=PIECES)
    (sold,) = [each for each in read_files(shop, lambda _: None).cleaned if each.record != "pieces"]
    assert (sold.record, sold.frame["piece"].drop_nulls().to_list()) == (
        "sales",
        [f"W-{n:03}" for n in range(1, 12, 2)],
    )
