"""Mails, phones and streets are masked in free text, and nothing else is: the counter-examples are a file of their own.

How a street is written with its number is common practice in six languages, no source; a phone number's country codes
and length are those of ITU-T E.164, the check digit of a number of goods that of the GS1 General Specifications.
"""

from pathlib import Path

import polars as pl
import pytest

from pipeline.readers import mask_contacts
from pipeline.readers.mask_contacts import EMAIL, PHONE, STREET, is_free_text, is_note, mask, masked
from pipeline.readers.reader_output import TextTable, ignored_of
from pipeline.reference import rows

NOT_CONTACTS = Path(__file__).with_name("not_contacts.txt").read_text(encoding="utf-8").splitlines()

MAILS = (
    "mia@example.org", "mailto:mia.m+x@mail.example.co.uk", "mia [at] example.org", "write MIA@EXAMPLE.ORG.",
)  # fmt: skip
PHONES = (
    "+49 171 5550199", "+1 (555) 010-0199", "+44 20 7946 0018", "+49(0)171/5550199", "+15550100999",
    "+33 6 12 34 56 78", "0049 171 5550199", "0049301234567", "00 44 20 7946 0018", "00491715550199",
    "(+49) 171 5550199", "001 202 555 0147",
    "0033612345678", "phone 555-0100", "Tel. 030/1234567", "tel: 0171 5550199", "Telefon 0171-5550199",
    "Tél. 06 12 34 56 78", "teléfono 612 345 678", "telefoon 06-12345678", "cellulare 333 1234567",
    "mobile no. 0171 5550199", "call 0171 5550199 when done", "Handy: 0171/5550199", "phone is 07700 900123",
    "Tel (030) 1234567", "gsm 0470 12 34 56", "móvil 612345678", "tel +49 171 5550199", "+49 171 5550199 12 trays",
    "+49 171 5550199 2026-05-31",
)  # fmt: skip
STREETS = (
    "12 Oak Street", "5 Market Street", "deliver to 12 Oak Street, ring bell", "221b Baker Street", "5 Elm Lane",
    "12 Old Mill Rd.",
    "1600 Pennsylvania Avenue NW", "12 oak street", "leave at 14 high street.", "42 5th Ave", "7 St. John's Road",
    "10 Downing St", "12 OAK STREET", "3 Maple Court", "8 The Crescent", "Oak Street 12", "5 Park Square, London",
    "Hauptstraße 5", "Hauptstr. 5", "Hauptstr.5", "HAUPTSTRASSE 12a", "Lange Straße 7", "Willy-Brandt-Straße 1",
    "Straße des 17. Juni 135", "Rosenweg 3", "Goetheplatz 4 b", "Parkallee 12-14", "Kirchgasse 9", "Berliner Straße 12",
    "12 rue des Lilas", "12, rue de la Paix", "5 bis, avenue Foch", "3 place Bellecour", "8 chemin du Moulin",
    "10 bd Voltaire", "2 impasse de l'Église", "12 allée des Tilleuls", "rue des Lilas 12", "12 rue des lilas",
    "Calle Mayor 7", "calle mayor 7", "C/ Mayor, 7", "Avda. de América 12", "Avenida de la Constitución 3",
    "Plaza Mayor, 3", "Paseo del Prado nº 8", "Kerkstraat 12", "kerkstraat 12", "Prinsengracht 263-265",
    "Lange Nieuwstraat 5", "Dorpsplein 3", "Stationsweg 14", "Via Roma 3", "via Roma 3", "Via Giuseppe Verdi, 12",
    "Viale Monza 5", "Piazza del Duomo 1", "Corso Italia 10", "Via XX Settembre 12", "Via dell'Orso 4",
)  # fmt: skip


def one(text: str) -> tuple[str, int]:
    found, count = mask(pl.Series([text, None]), True)
    assert found[1] is None
    return found[0], count


@pytest.mark.parametrize("text", MAILS)
def test_a_mail_is_masked(text: str) -> None:
    found, count = one(text)
    assert (EMAIL in found, count) == (True, 1)
    assert "example" not in found.casefold()


@pytest.mark.parametrize("text", PHONES)
def test_a_phone_number_is_masked_and_nothing_after_it(text: str) -> None:
    found, count = one(text)
    assert (PHONE in found, count) == (True, 1)
    assert not any(c.isdigit() for c in found.replace(" 2026-05-31", "").replace(" 12 trays", ""))


def test_a_date_after_a_phone_number_stays() -> None:
    assert one("+49 171 5550199 2026-05-31") == (f"{PHONE} 2026-05-31", 1)


@pytest.mark.parametrize("text", STREETS)
def test_a_street_with_its_number_is_masked(text: str) -> None:
    found, count = one(text)
    assert (STREET in found, count) == (True, 1)
    assert not any(c.isdigit() for c in found)


def test_there_are_counter_examples_enough() -> None:
    assert len(set(NOT_CONTACTS)) == len(NOT_CONTACTS) > 200


@pytest.mark.parametrize("text", NOT_CONTACTS)
def test_what_is_none_stays_to_the_letter(text: str) -> None:
    assert one(text) == (text, 0)
    assert one(f"note: {text}; done") == (f"note: {text}; done", 0)


def test_several_in_one_text_are_counted_one_by_one() -> None:
    text = "to 12 Oak Street and mia@example.org, tel 0171 5550199, by 2026-05-31, grit 120"
    assert one(text) == (f"to {STREET} and {EMAIL}, tel {PHONE}, by 2026-05-31, grit 120", 3)
    assert mask(pl.Series([text, text, "oak"]), True)[1] == 6


def test_masking_again_changes_nothing() -> None:
    for text in (*MAILS, *PHONES, *STREETS):
        again = one(text)[0]
        assert one(again) == (again, 0)


@pytest.mark.parametrize("text", [*MAILS, *PHONES, *STREETS])
def test_the_quick_patterns_pass_over_nothing(text: str) -> None:
    assert mask_contacts._masked(text, True) == one(text)


@pytest.mark.parametrize(
    "header",
    ["Notes", "note", "Item title", "Listing title", "Description", "Artikelbeschreibung", "Bemerkung", "Betreff",
     "Remarques", "Libellé", "Observaciones", "Opmerking", "Descrizione", "Customer comments", "Gift message"],
)  # fmt: skip
def test_a_header_that_says_so_is_free_text(header: str) -> None:
    assert is_note(header)
    assert is_free_text(header)


@pytest.mark.parametrize(
    "header",
    ["Order no", "Receipt", "Lot", "Piece", "Date", "Price", "Place", "Supplier", "Quantity", "Person", "Channel",
     "transaction id", "barcode", "Length", "file", "sheet", "row", "mark"],
)  # fmt: skip
def test_a_header_known_as_something_else_is_none(header: str) -> None:
    assert not is_free_text(header)


def test_only_free_text_of_a_table_is_masked() -> None:
    cells = {"c0": ["+49301234567"], "c1": ["Gallery, 12 Oak Street"], "c2": ["12 Oak Street"], "c3": ["+49301234567"]}
    frame = pl.DataFrame({**cells, "row": [3]})
    titles = [(1, "title", "Sales for mia@example.org"), (2, "header", "order no | place | notes | Remark 2")]
    table = TextTable("", ("order no", "place", "notes", "Remark 2"), frame, ignored_of(titles))
    found = masked(table)
    assert found.frame.row(0) == ("+49301234567", "Gallery, 12 Oak Street", STREET, PHONE, 3)
    assert found.ignored["text"].to_list() == ["Sales for (e-mail)", titles[1][2]]
    assert found.masked == 3


def test_a_first_row_of_data_taken_for_a_header_is_masked_and_a_header_is_not() -> None:
    frame = pl.DataFrame({"c0": ["x"], "c1": ["y"], "c2": ["z"], "row": [2]})
    found = masked(TextTable("", ("mia@example.org", "12 Oak Street, rear", "Street 1"), frame, ignored_of([])))
    assert found.names == (EMAIL, f"{STREET}, rear", "Street 1")


def test_a_note_in_the_column_of_a_day_or_an_amount_is_masked_and_an_amount_is_not() -> None:
    cells = ["call +49 171 5550199 first", "+12345678", "+12345678 JPY", "31 May 2026", "mia@example.org"]
    frame = pl.DataFrame({"c0": cells, "c1": cells, "row": range(5)})
    found = masked(TextTable("", ("Price", "Order no"), frame, ignored_of([])))
    assert found.frame["c0"].to_list() == [f"call {PHONE} first", *cells[1:4], EMAIL]
    assert found.frame["c1"].to_list() == cells


def test_bare_digits_of_an_unknown_column_are_a_code() -> None:
    frame = pl.DataFrame({"c0": ["0049301234567"], "row": [2]})
    assert masked(TextTable("", ("Vorgang",), frame, ignored_of([]))).masked == 0
    assert masked(TextTable("", ("Notiz",), frame, ignored_of([]))).masked == 1


def test_every_word_has_a_source() -> None:
    for table in ("contacts", "buyers"):
        assert all(row["source"] for row in rows(table))
        assert len({tuple(row.values()) for row in rows(table)}) == len(rows(table))
