"""What is about a buyer, planted in every kind of file and every place of it, comes out of nowhere.

Planted: a mail, a phone number and a street in each free text (notes, titles, descriptions, columns that no header
explains), in columns about buyers a name and a town too, in rows above and below a table, in rows set aside, and in
tables that nobody has mapped. Then every command that shows or writes something is run, and every byte is looked at.
"""

import itertools
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from xml.sax.saxutils import escape

import polars as pl
import pytest
import xlsxwriter
from pypdf import PdfWriter

from pipeline import database
from pipeline.commands import main
from pipeline.readers import READERS
from pipeline.readers.pdf import PICTURES

MAIL, PHONE, STREET, NAME, TOWN = "zqmail@zqhost.example", "+49 171 5559918", "12 Zqelm Street", "Zqname", "Zqtown"
SENTINELS = ("zqmail", "zqhost", "5559918", "zqelm", "zqname", "zqtown")
WRITTEN = f"call {PHONE}, mail {MAIL}, or bring it to {STREET}, soon"
KEPT = "zqkept"

FREE = ("note", "Item title", "Description", "Vorgang")
PRIVATE = {
    "Buyer name": NAME, "Ship to street": STREET, "Ship to city": TOWN, "E-mail": MAIL, "Recipient phone": PHONE,
    "Kundenname": NAME, "Ville de livraison": TOWN, "Dirección de envío": STREET, "Naam klant": NAME,
    "Città di consegna": TOWN,
}  # fmt: skip
NAMES = ["date", "channel", "price", *FREE, *PRIVATE]
TILL = """
files = "*till*"
record = "sales"
[columns]
date = "date"
channel = "channel"
price = "price"
product = "Item title"
note = "note"
"""


def rows() -> list[list[str]]:
    def row(day: int, price: str, title: str) -> list[str]:
        free = (WRITTEN, f"{title}, {WRITTEN}", WRITTEN, WRITTEN)
        return [f"2026-03-{day:02d}", "market", price, *free, *PRIVATE.values()]

    good = [row(day, f"{40 + day}.00", KEPT) for day in range(1, 9)]
    return [*good, row(9, "soon", KEPT), row(10, WRITTEN, KEPT), row(0, "40.00", KEPT)]


def grid() -> list[list[str]]:
    """Titles, header, rows and a total."""
    total = ["Total", "", "300.00", *[""] * len(FREE), *PRIVATE.values()]
    return [[f"Sales for {WRITTEN}"], [], NAMES, *rows(), [], total, [f"Questions: {WRITTEN}"]]


def delimited(path: Path, mark: str) -> None:
    quoted = [[f'"{cell}"' if mark in cell else cell for cell in row] for row in grid()]
    path.write_text("\n".join(map(mark.join, quoted)) + "\n", encoding="utf-8")


def workbook(path: Path) -> None:
    with xlsxwriter.Workbook(path) as book:
        for name in ("Sales", "Hidden"):
            sheet = book.add_worksheet(name)
            for at, row in enumerate(grid()):
                sheet.write_row(at, 0, row)
        book.get_worksheet_by_name("Hidden").hide()


def open_document(path: Path) -> None:
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    spaces = " ".join(f'xmlns:{n}="urn:oasis:names:tc:opendocument:xmlns:{n}:1.0"' for n in ("office", "table", "text"))
    entry = f'<m:file-entry m:full-path="/" m:media-type="{kind}"/>'

    def cell(text: str) -> str:
        return f'<table:table-cell office:value-type="string"><text:p>{escape(text)}</text:p></table:table-cell>'

    lines = "".join(f"<table:table-row>{''.join(map(cell, row or ['']))}</table:table-row>" for row in grid())
    body = f'<office:spreadsheet><table:table table:name="Sales">{lines}</table:table></office:spreadsheet>'
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", kind)
        manifest = "urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"
        archive.writestr("META-INF/manifest.xml", f'<m:manifest xmlns:m="{manifest}">{entry}</m:manifest>')
        whole = f"<office:document-content {spaces}><office:body>{body}</office:body></office:document-content>"
        archive.writestr("content.xml", whole)


def calendar(path: Path) -> None:
    said = WRITTEN.replace(",", "\\,")
    who = f"ORGANIZER;CN={NAME}:mailto:{MAIL}\r\nATTENDEE;CN={NAME}:mailto:{MAIL}\r\nLOCATION:{STREET}\r\n"
    titles = (f"Sanding for {NAME}", f"Sanding T-1 {said}", f"Sanding T-1 for {NAME}: {said}", "Sanding")
    events = [
        f"BEGIN:VEVENT\r\nDTSTART:2026030{n}T090000\r\nDTEND:2026030{n}T100000\r\nSUMMARY:{title}\r\n"
        f"DESCRIPTION:{KEPT} {said}\r\n{who}END:VEVENT\r\n"
        for n, title in enumerate(titles, 1)
    ]
    events += [f"BEGIN:VTODO\r\nSUMMARY:Sanding for {NAME} {said}\r\n{who}END:VTODO\r\n"]
    events += [
        f"BEGIN:VEVENT\r\nDTSTART:2026\r\nSUMMARY:Sanding for {NAME}\r\nDESCRIPTION:{said}\r\n{who}END:VEVENT\r\n"
    ]
    path.write_text(f"BEGIN:VCALENDAR\r\nVERSION:2.0\r\n{''.join(events)}END:VCALENDAR\r\n", newline="")


def objects() -> list[dict[str, str]]:
    return [dict(zip(NAMES, row, strict=True)) for row in rows()]


def statement(path: Path) -> None:
    """A bank statement (ISO 20022 camt.053) whose parties are buyers, and whose texts name them."""
    party = f"<Dbtr><Pty><Nm>{NAME}</Nm><PstlAdr><AdrLine>{STREET}, {TOWN}</AdrLine></PstlAdr></Pty></Dbtr>"
    entries = "".join(
        f'<Ntry><Amt Ccy="{money}">{day}.00</Amt><CdtDbtInd>CRDT</CdtDbtInd><Sts><Cd>{booked}</Cd></Sts>'
        f"<BookgDt><Dt>2026-03-{day:02d}</Dt></BookgDt><NtryDtls><TxDtls><RltdPties>{party}</RltdPties>"
        f"<RmtInf><Ustrd>{KEPT} {WRITTEN}</Ustrd></RmtInf></TxDtls></NtryDtls></Ntry>"
        for day, booked, money in ((3, "BOOK", "EUR"), (4, "PDNG", "EUR"), (5, "BOOK", "SEK"))
    )
    path.write_text(f"<Document><BkToCstmrStmt><Stmt>{entries}</Stmt></BkToCstmrStmt></Document>", encoding="utf-8")


def bill(path: Path) -> None:
    """A PDF with an invoice inside (Factur-X) to a buyer, whose lines name them."""
    buyer = f"<BuyerTradeParty><Name>{NAME}</Name><PostalTradeAddress>{STREET}</PostalTradeAddress></BuyerTradeParty>"
    line = (
        f"<SpecifiedTradeProduct><Name>{KEPT} {WRITTEN}</Name></SpecifiedTradeProduct><SpecifiedLineTradeSettlement>"
        "<SpecifiedTradeSettlementLineMonetarySummation><LineTotalAmount>10.00</LineTotalAmount>"
        "</SpecifiedTradeSettlementLineMonetarySummation></SpecifiedLineTradeSettlement>"
    )
    trade = (
        f"<IncludedSupplyChainTradeLineItem>{line}</IncludedSupplyChainTradeLineItem>"
        f"<ApplicableHeaderTradeAgreement>{buyer}</ApplicableHeaderTradeAgreement>"
    )
    whole = f"<SupplyChainTradeTransaction>{trade}</SupplyChainTradeTransaction>"
    held = f"<CrossIndustryInvoice>{whole}</CrossIndustryInvoice>"
    writer = PdfWriter()
    writer.add_blank_page(100, 100)
    writer.add_attachment("factur-x.xml", held.encode())
    with path.open("wb") as file:
        writer.write(file)


def picture(path: Path) -> None:
    path.write_bytes(b"\xff\xd8\xff" + WRITTEN.encode())


WRITERS: dict[str, Callable[[Path], None]] = {
    ".csv": lambda path: delimited(path, ","),
    ".tsv": lambda path: delimited(path, "\t"),
    ".txt": lambda path: delimited(path, ";"),
    ".xlsx": workbook,
    ".ods": open_document,
    ".ics": calendar,
    ".json": lambda path: [*map(path.write_text, [json.dumps(objects())])] and None,
    ".jsonl": lambda path: [*map(path.write_text, ["\n".join(map(json.dumps, objects()))])] and None,
    ".parquet": lambda path: pl.DataFrame(objects()).write_parquet(path),
    ".xml": statement,
    ".pdf": bill,
    **dict.fromkeys(PICTURES, picture),
}


@pytest.fixture
def shop(tiny_shop: Path) -> Path:
    (tiny_shop / "mappings").mkdir()
    (tiny_shop / "mappings" / "till.toml").write_text(TILL, encoding="utf-8")
    for suffix, write in WRITERS.items():
        # one that a mapping reads, and one that nobody has settled
        write(tiny_shop / "inbox" / f"till{suffix}")
        write(tiny_shop / "inbox" / f"open{suffix}")
    return tiny_shop


def test_every_kind_of_file_is_planted() -> None:
    assert set(WRITERS) == set(READERS)


@pytest.mark.slow
def test_nothing_about_a_buyer_comes_out(shop: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    said = {}

    def run(*call: str) -> None:
        code = main(list(call))
        shown = capfd.readouterr()
        said[" ".join(call)] = shown.out + shown.err
        assert code in (0, 1), (call, shown.err)

    run("refresh", str(shop))
    run("refresh", str(shop), "--json")
    run("check", str(shop))
    run("check", str(shop), "--json")
    run("check", str(shop), "--set-aside", str(tmp_path / "mended.csv"))
    run("answer", str(shop))
    run("answer", str(shop), "--json")
    for kind in ("csv", "parquet"):
        run("export", str(shop), "--format", kind, "--to", str(tmp_path / kind))
    for path in sorted((shop / "inbox").iterdir()):
        for how in ([], ["--json"], ["--csv"]):
            run("peek", str(path), *how)
        if path.suffix in PICTURES:  # nothing of it is read
            continue
        run("map", str(shop), str(path))
        run("map", str(shop), str(path), "--json")
    with database.open_newest(shop) as con:
        tables = con.execute("select schema_name, table_name from duckdb_tables() where not internal").fetchall()
        said["tables"] = "\n".join(str(con.execute(f'from "{s}"."{t}"').fetchall()) for s, t in tables)
        counted = con.execute("select file, sum(masked) from intake.file where masked > 0 group by file").fetchall()
        aside = con.execute("select count(*) from intake.rejected").fetchone()
    written = [p for p in itertools.chain(tmp_path.rglob("*")) if p.is_file() and "inbox" not in p.parts]
    said |= {str(p): p.read_bytes().decode(errors="replace") for p in written}
    assert len(written) > 50
    assert KEPT in said["tables"]
    assert any(KEPT in text for name, text in said.items() if name.startswith(str(tmp_path / "mended")))
    assert "masked in notes" in said[f"refresh {shop}"]
    assert "masked in notes" in said[f"check {shop}"]
    assert {file for file, _ in counted} == {
        f"inbox/{name}{end}" for name in ("till", "open") for end in {*WRITERS} - {*PICTURES}
    }
    assert aside is not None
    assert aside[0] >= 20
    found = [(where, word) for where, text in said.items() for word in SENTINELS if word in text.casefold()]
    assert found == [], "\n".join(f"{w}: {x}" for x, w in found)
