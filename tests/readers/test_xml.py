"""Statements and invoices by open standards, from the file to its rows; and XML that nobody should trust.

The samples in `standards/` are of our own, written after ISO 20022 camt.053.001.08, OASIS UBL 2.1, UN/CEFACT CII D16B
and EN 16931-1. That an invoice's lines, charges, allowances and tax come to its total are EN 16931's own rules
BR-CO-10, BR-CO-13 and BR-CO-15.
"""

import re
from decimal import Decimal
from pathlib import Path

import pytest
from pypdf import PdfWriter

from pipeline import database
from pipeline.errors import UserError
from pipeline.readers import TextTable, read
from pipeline.readers.xml_tree import ELEMENTS
from tests.refreshed import refreshed

STANDARDS = Path(__file__).with_name("standards")


def rows(table: TextTable) -> list[dict[str, str | None]]:
    return table.frame.rename(dict(zip(table.columns, table.names, strict=True))).to_dicts()


def only(path: Path, **given: str) -> TextTable:
    (table,) = read(path, **given)
    return table


def changed(tmp_path: Path, name: str, *changes: tuple[str, str]) -> Path:
    text = (STANDARDS / name).read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


class TestStatement:
    def test_each_booked_entry_is_a_payment_and_a_minus_goes_out(self) -> None:
        table = only(STANDARDS / "statement.xml")
        found = [(r["date"], r["amount"], r["receipt"], r["note"]) for r in rows(table)]
        assert found == [
            ("2026-10-05", "EUR 121.00", None, "tray T-004"),
            ("2026-10-05", "EUR 121.00", None, "tray T-005"),
            ("2026-10-09", "EUR -119.95", "R-881", None),
            ("2026-10-20", "EUR 149.40", None, "returned direct debit"),
        ]
        assert table.ignored["reason"].to_list() == ["not booked yet"]
        assert table.dialect["record"] == "payments"

    def test_a_row_stands_where_its_entry_begins(self) -> None:
        lines = (STANDARDS / "statement.xml").read_text(encoding="utf-8").splitlines()
        told = only(STANDARDS / "statement.xml").frame["row"].to_list()
        assert ["<TxDtls>" in lines[row - 1] or "<Ntry>" in lines[row - 1] for row in told] == [True] * 4

    def test_the_balance_runs_from_the_opening_to_the_closing(self) -> None:
        assert [r["balance"] for r in rows(only(STANDARDS / "statement.xml"))] == [
            *("EUR 1121.00", "EUR 1242.00", "EUR 1122.05", "EUR 1271.45"),
        ]

    def test_the_newest_first_has_the_same_balances(self, tmp_path: Path) -> None:
        text = (STANDARDS / "statement.xml").read_text(encoding="utf-8")
        entries = re.findall(r"<Ntry>.*?</Ntry>", text, re.S)
        turned = text.replace(text[text.index("<Ntry>") : text.rindex("</Ntry>") + 7], "".join(entries[::-1]))
        (tmp_path / "a.xml").write_text(turned, encoding="utf-8")
        found = [(r["date"], r["balance"]) for r in rows(only(tmp_path / "a.xml"))]
        assert (found[0][0], found[-1]) == ("2026-10-05", ("2026-10-20", "EUR 1271.45"))

    def test_what_a_statement_lacks_shows_in_its_last_balance(self, tmp_path: Path) -> None:
        path = changed(tmp_path, "statement.xml", ("1271.45", "1300.00"))
        assert rows(only(path))[-1]["balance"] == "EUR 1300.00"

    def test_transactions_that_come_to_something_else_leave_the_entry_whole(self, tmp_path: Path) -> None:
        path = changed(
            tmp_path,
            "statement.xml",
            ('<Ntry>\n        <Amt Ccy="EUR">242.00', '<Ntry>\n        <Amt Ccy="EUR">240.00'),
        )
        assert [r["amount"] for r in rows(only(path))] == ["EUR 240.00", "EUR -119.95", "EUR 149.40"]

    def test_no_party_is_read(self) -> None:
        assert "Buyer" not in str(only(STANDARDS / "statement.xml"))

    def test_each_account_is_a_table(self, tmp_path: Path) -> None:
        text = (STANDARDS / "statement.xml").read_text(encoding="utf-8")
        statement = text[text.index("<Stmt>") : text.index("</Stmt>") + len("</Stmt>")]
        other = statement.replace("NL00TEST0000000000", "NL00TEST0000000001")
        path = tmp_path / "two.xml"
        path.write_text(text.replace(statement, statement + other + statement), encoding="utf-8")
        assert [(t.sheet, t.frame.height) for t in read(path)] == [("account 1", 8), ("account 2", 4)]

    @pytest.mark.parametrize(
        ("old", "new", "stands"),
        [
            ('<Amt Ccy="EUR">119.95</Amt>', '<Amt Ccy="EUR">NaN</Amt>', "EUR NaN, no number"),
            ('<Amt Ccy="EUR">119.95</Amt>', '<Amt Ccy="EUR">1e999999999</Amt>', "EUR 1e999999999, no number"),
            ('<Amt Ccy="EUR">119.95</Amt>', '<Amt Ccy="EUR">119,95</Amt>', "EUR 119,95, no number"),
            ('<Amt Ccy="EUR">119.95</Amt>', "", None),
            (
                "119.95</Amt><CdtDbtInd>DBIT</CdtDbtInd>",
                "119.95</Amt><CdtDbtInd>AWAY</CdtDbtInd>",
                "EUR 119.95, neither in nor out",
            ),
            ("119.95</Amt><CdtDbtInd>DBIT</CdtDbtInd>", "119.95</Amt>", "EUR 119.95, neither in nor out"),
        ],
    )
    def test_an_entry_that_cannot_be_read_is_set_aside_alone(
        self, tiny_shop: Path, old: str, new: str, stands: str | None
    ) -> None:
        text = (STANDARDS / "statement.xml").read_text(encoding="utf-8")
        assert old in text
        path = tiny_shop / "inbox" / "statement.xml"
        path.write_text(text.replace(old, new, 1), encoding="utf-8")
        line = next(at for at, said in enumerate(text.splitlines(), 1) if "119.95" in said) - 1
        table = only(path)
        assert [(r["amount"], r["balance"]) for r in rows(table)] == [
            *(("EUR 121.00", "EUR 1121.00"), ("EUR 121.00", "EUR 1242.00")),
            *((stands, None), ("EUR 149.40", "EUR 1271.45")),  # what the bank says at the end still holds
        ]
        refreshed(tiny_shop)
        with database.open_newest(tiny_shop) as con:
            aside = con.execute("select row, field from intake.rejected").fetchall()
            assert aside == [(line, "amount")]
            taken = con.execute("select amount_cents from records.payments order by all").fetchall()
            assert taken == [(12100,), (12100,), (14940,)]

    @pytest.mark.parametrize("amount", ["one hundred", "1e400"])
    def test_a_part_or_a_balance_that_cannot_be_read_takes_no_entry_along(self, tmp_path: Path, amount: str) -> None:
        part = changed(tmp_path, "statement.xml", ('<TxDtls><Amt Ccy="EUR">121.00', f'<TxDtls><Amt Ccy="EUR">{amount}'))
        assert [r["amount"] for r in rows(only(part))] == ["EUR 242.00", "EUR -119.95", "EUR 149.40"]
        opened = changed(tmp_path, "statement.xml", ("1000.00", amount))
        assert [r["balance"] for r in rows(only(opened))] == [None, None, None, "EUR 1271.45"]
        closed = changed(tmp_path, "statement.xml", ("1271.45", amount))
        assert rows(only(closed))[-1]["balance"] == "EUR 1271.45"  # reckoned from the opening

    def test_another_kind_of_document_is_told(self, tmp_path: Path) -> None:
        with pytest.raises(UserError, match="no bank statement"):
            read(changed(tmp_path, "statement.xml", ("BkToCstmrStmt", "BkToCstmrAcctRpt")))


class TestInvoice:
    def test_lines_are_purchases_with_the_document_s_own_sums_once(self) -> None:
        table = only(STANDARDS / "ubl.xml")
        first, second = rows(table)
        assert table.dialect["record"] == "purchases"
        assert (first["date"], first["receipt"], first["supplier"]) == ("2026-10-02", "R-881", "Riverbend Boards")
        assert (first["item"], first["quantity"], first["unit"], first["amount"]) == (
            "walnut slab",
            "0.031",
            "MTQ",
            "62.00",
        )
        assert (first["freight"], first["discount"], first["tax"], first["total"]) == (
            "12.00",
            "5.00",
            "21.00",
            "121.00",
        )
        assert (second["amount"], second["tax"], second["freight"], second["total"]) == ("31.00", None, None, None)
        # BR-CO-13, BR-CO-15
        assert Decimal("62.00") + Decimal("31.00") + Decimal("12.00") - Decimal("5.00") + Decimal("21.00") == Decimal(
            "121.00"
        )

    def test_no_customer_is_read(self) -> None:
        assert "Quiet Bench" not in str(only(STANDARDS / "ubl.xml"))

    def test_a_credit_note_goes_back(self) -> None:
        (row,) = rows(only(STANDARDS / "cii.xml"))
        assert (row["date"], row["quantity"], row["amount"], row["tax"]) == ("2026-10-12", "-0.010", "-20.00", "-4.20")

    def test_a_credit_note_that_is_written_with_a_minus_is_not_turned_round(self, tmp_path: Path) -> None:
        minus = (">0.010<", ">-0.010<"), (">20.00<", ">-20.00<"), (">4.20<", ">-4.20<"), (">24.20<", ">-24.20<")
        (row,) = rows(only(changed(tmp_path, "cii.xml", *minus)))
        assert (row["quantity"], row["amount"], row["tax"]) == ("-0.010", "-20.00", "-4.20")

    def test_an_invoice_that_the_shop_wrote_is_a_sale(self, tmp_path: Path) -> None:
        ours = (">0.031<", ">3<"), (">1.5<", ">1<")
        table = only(changed(tmp_path, "ubl.xml", *ours), own_name=" riverbend  BOARDS")
        assert table.dialect["record"] == "sales"
        first, second = rows(table)
        # no price in cents is a third of 62.00: 20.67 each and 0.01 off; the document's 5.00 off on its dearest line
        assert (first["quantity"], first["price"], first["discount"]) == ("3", "20.67", "5.01")
        assert (first["shipping_charged"], second["shipping_charged"]) == ("12.00", None)
        assert Decimal(first["sales_tax"] or 0) + Decimal(second["sales_tax"] or 0) == Decimal("21.00")

    def test_a_line_of_nothing_stays_and_the_documents_sums_stand_on_the_dearest(self, tmp_path: Path) -> None:
        free, paid = rows(only(changed(tmp_path, "ubl.xml", (">62.00<", ">0.00<"))))
        assert (free["amount"], free["tax"], free["total"]) == ("0.00", None, None)
        assert (paid["tax"], paid["freight"], paid["total"]) == ("21.00", "12.00", "121.00")

    def test_what_goes_back_is_as_much_as_it_was(self, tmp_path: Path) -> None:
        back = (">31.00<", ">-10.00<"), (">1.5<", ">-3<")
        row = rows(only(changed(tmp_path, "ubl.xml", *back), own_name="Riverbend Boards"))[1]
        # money of a return takes the row's sign: 3 at 3.34 less 0.02 are 10.00
        assert (row["quantity"], row["price"], row["discount"]) == ("-3", "3.34", "0.02")

    def test_a_rate_beyond_all_reason_is_said(self, tmp_path: Path) -> None:
        with pytest.raises(UserError, match="figure of the invoice"):
            read(
                changed(tmp_path, "ubl.xml", ("<cbc:Percent>21<", f"<cbc:Percent>{'9' * 14}<")),
                own_name="Riverbend Boards",
            )

    def test_a_bill_in_advance_is_no_purchase(self, tmp_path: Path) -> None:
        table = only(changed(tmp_path, "ubl.xml", (">380<", ">386<")))
        assert table.frame.height == 0
        assert table.ignored["text"].to_list() == ["R-881"]

    @pytest.mark.parametrize("figure", ["twelve", "NaN", "-Infinity", "1E+999999999", "1E-999999999", ""])
    def test_a_figure_that_is_none_is_said(self, tmp_path: Path, figure: str) -> None:
        with pytest.raises(UserError, match="figure of the invoice"):
            read(changed(tmp_path, "ubl.xml", ('currencyID="EUR">62.00<', f'currencyID="EUR">{figure}<')))


def written(path: Path, data: bytes) -> Path:
    path.write_bytes(data)
    return path


HOSTILE = {
    "a document type": (b'<!DOCTYPE Invoice SYSTEM "http://127.0.0.1:9/x.dtd"><Invoice/>', "document type"),
    "entities that multiply": (
        b'<!DOCTYPE a [<!ENTITY b "bbbb"><!ENTITY c "&b;&b;&b;">]><Invoice><ID>&c;</ID></Invoice>',
        "document type",
    ),
    "a file from outside": (
        b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY e SYSTEM "file:///etc/passwd">]><Invoice><ID>&e;</ID></Invoice>',
        "document type",
    ),
    "an entity of nobody": (b"<Invoice><ID>&e;</ID></Invoice>", "no XML"),
    "endless nesting": (b"<Invoice>" + b"<a>" * 100_000, "more than any"),
    "no end": (b"<Invoice><ID>1", "no XML"),
    "an encoding of nobody": (b'<?xml version="1.0" encoding="x-none"?><Invoice/>', "no XML"),
    "bytes of nothing": (bytes(range(256)) * 10, "no XML"),
    "nothing": (b"", "no XML"),
    "another kind": (b"<html><body/></html>", "this kind"),
    "no lines": (b"<Invoice/>", "no lines"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_xml_is_refused_with_a_clear_word(tmp_path: Path, name: str) -> None:
    data, what = HOSTILE[name]
    with pytest.raises(UserError, match=what) as caught:
        read(written(tmp_path / "x.xml", data))
    assert caught.value.mend


def test_elements_without_number_are_not_held(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="more than any"):
        read(written(tmp_path / "x.xml", b"<Invoice>" + b"<a/>" * (ELEMENTS + 1)))


def pdf(path: Path, inside: dict[str, bytes], password: str = "") -> Path:
    writer = PdfWriter()
    writer.add_blank_page(100, 100)
    for name, data in inside.items():
        writer.add_attachment(name, data)
    if password:
        writer.encrypt(password, algorithm="RC4-128")
    with path.open("wb") as file:
        writer.write(file)
    return path


class TestPdf:
    def test_the_invoice_inside_is_read(self, tmp_path: Path) -> None:
        data = (STANDARDS / "cii.xml").read_bytes()
        path = pdf(tmp_path / "bill.pdf", {"readme.txt": b"no", "factur-x.xml": data})
        assert rows(only(path)) == rows(only(STANDARDS / "cii.xml"))

    def test_any_other_is_paper(self, tmp_path: Path) -> None:
        table = only(pdf(tmp_path / "R-881.pdf", {"terms.xml": b"<Invoice/>"}))
        assert table.frame.height == 0
        assert "kept as paper" in str(table.dialect["message"])

    @pytest.mark.parametrize("name", ["a file from outside", "no lines", "bytes of nothing"])
    def test_an_invoice_inside_that_cannot_be_used_leaves_the_paper_and_says_why(
        self, tmp_path: Path, name: str
    ) -> None:
        data, what = HOSTILE[name]
        table = only(pdf(tmp_path / "bill.pdf", {"factur-x.xml": data}))
        assert table.frame.height == 0
        assert re.search(f"{what}.*kept as paper", str(table.dialect["message"]))

    @pytest.mark.parametrize("cut", [0, 5, 300, 600])
    def test_a_torn_one_is_told(self, tmp_path: Path, cut: int) -> None:
        whole = pdf(tmp_path / "bill.pdf", {"factur-x.xml": b"<Invoice/>"}).read_bytes()
        with pytest.raises(UserError, match="can't be read"):
            read(written(tmp_path / "torn.pdf", whole[:cut]))

    def test_a_locked_one_is_told(self, tmp_path: Path) -> None:
        with pytest.raises(UserError, match="damaged or locked"):
            read(pdf(tmp_path / "bill.pdf", {"factur-x.xml": b"<Invoice/>"}, "secret"))
