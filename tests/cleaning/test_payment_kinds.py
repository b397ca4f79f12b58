"""A bank's statement says which way money went, not what for. Reckoned by hand; ISO 20022 camt.053 has CRDT and DBIT
for the two ways, and no kind."""

from collections.abc import Callable

import duckdb
import polars as pl
import pytest

from pipeline.cleaning.payment_kinds import with_kinds

Books = Callable[..., duckdb.DuckDBPyConnection]

SHOP = 'currency = "EUR"\nstart = 2026-01-01\n'
KINDS = "select note, kind, amount_cents from records.payments order by on_date"


@pytest.mark.parametrize(
    ("head", "rows"),
    [
        ("Date;Description;CdtDbtInd;Amount", ("{};{};DBIT;{}", "{};{};CRDT;{}")),
        ("Boekdatum;Omschrijving;Af Bij;Bedrag", ("{};{};Af;{}", "{};{};Bij;{}")),
        ("Datum;Verwendungszweck;Soll;Haben", ("{};{};{};", "{};{};;{}")),
        ("Date;Description;Amount", ("{};{};-{}", "{};{};{}")),
    ],
)
def test_a_line_without_a_kind_is_a_bill_or_takings_by_the_way_it_went(books: Books, head: str, rows: tuple) -> None:
    out, come = rows
    lines = [
        out.format("2026-01-13", "Sawmill R-1", "84.50"),
        come.format("2026-01-14", "card terminal", "310.00"),
        out.format("2026-01-15", "sales tax, quarter 4", "120.00"),
        come.format("2026-01-16", "loan from the bank", "900.00"),
        out.format("2026-01-17", "resin shop", "45.00"),
        come.format("2026-01-18", "takings", "55.25"),
    ]
    con = books(SHOP, **{"bank statement": "\n".join([head, *lines]) + "\n"})
    assert con.execute(KINDS).fetchall() == [
        ("Sawmill R-1", "supplier", 8450),
        ("card terminal", "payout", 31000),
        ("sales tax, quarter 4", "tax", 12000),
        ("loan from the bank", "loan", 90000),
        ("resin shop", "supplier", 4500),
        ("takings", "payout", 5525),
    ]
    told = con.execute("select vocabulary, taken, rows from intake.likely_word").fetchall()
    assert told == [("kind", "payout if it came in, supplier if it went out", 6)]


def test_where_no_way_is_told_it_is_asked(books: Books) -> None:
    con = books(SHOP, bank="Date;Description;Amount\n2026-01-13;Sawmill;84.50\n2026-01-14;terminal;310.00\n")
    assert con.execute("select count(*) from records.payments").fetchall() == [(0,)]


def test_words_of_a_note_are_known_with_their_accents_and_marks(books: Books) -> None:
    lines = [
        ("Impôt sur le revenu", "-120.00", "tax"),
        ("IMPÔT", "-120.01", "tax"),
        ("Rückzahlung an Kundin", "-15.00", "refund"),
        ("RUCKZAHLUNG", "-15.01", "refund"),
        ("prêt de la banque", "900.00", "loan"),
        ("Steuer/2026", "-30.00", "tax"),
        ("sales_tax Q4", "-31.00", "tax"),
        ("Impotence", "-32.00", "supplier"),
        ("préteur", "33.00", "payout"),
    ]
    text = "".join(f"2026-02-{day:02};{note};{amount}\n" for day, (note, amount, _) in enumerate(lines, 1))
    con = books(SHOP, **{"bank statement": f"Date;Description;Amount\n{text}"})
    found = con.execute("select note, kind from records.payments order by on_date").fetchall()
    assert found == [(note, kind) for note, _, kind in lines]


def test_a_cent_tells_its_way_and_nothing_at_all_tells_none() -> None:
    lines = pl.DataFrame({"amount_cents": [-1, 0, 1], "kind": [None] * 3, "note": ["to-day"] * 3})
    found = with_kinds(lines.cast({"kind": pl.String}))
    assert found["kind"].to_list() == ["supplier", None, "payout"]
