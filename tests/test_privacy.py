"""Buyers' names, addresses, mails and phones: no mapping can name them, and they never reach the database."""

import re
from pathlib import Path

import pytest

from pipeline import database, mapping
from pipeline.database.plan import Plan
from pipeline.errors import UserError
from pipeline.mapping.private_columns import is_private_header
from pipeline.records import RECORDS
from pipeline.reference import rows
from pipeline.refresh import corrections, refresh
from pipeline.reports.finding import rows_of
from pipeline.shop import Shop, load

SALES = (
    "date,channel,price,product,note\n"
    "2026-03-01,online,45.00,tray,quinby@example.org\n"
    "2026-03-02,online,50.00,tray,zelda@example.org\n"
)
TILL = (
    "Sold on,Where,What,Price,Buyer name,Address\n"
    "2026-03-01,market,tray,45.00,Quinby Marlowe,1 Elm Lane\n"
    "2026-03-02,market,tray,soon,Zelda Thorne,2 Oak Lane\n"
    "Total,,,45.00,Quinby Marlowe,\n"
)
CARDS = "Customer,Email,Fond of\nQuinby Marlowe,quinby@example.org,trays\nZelda Thorne,zelda@example.org,bowls\n"
TILL_MAPPING = """
files = "till.csv"
record = "sales"
[columns]
date = "Sold on"
channel = "Where"
product = "What"
price = "Price"
"""
NAMES = ("quinby", "zelda", "marlowe", "thorne", "elm lane")

ABOUT_BUYERS = (
    "Ship to street", "ship_to_city", "ShipToPostalCode", "Ship-to name", "Bill to", "Bill-To Company", "Buyer",
    "Buyer's name", "Customer e-mail", "customer.email", "shipping_address.city", "Ship State", "Delivery city",
    "Deliver to post code", "Kundenname", "Kundentelefon", "Kunden-Nr.", "Rechnungsadresse", "Rechnungsort",
    "Lieferort", "Empfänger", "Empfängername", "Name des Kunden", "Straße", "Hausnr.", "Straße und Hausnummer",
    "Käufer-E-Mail", "Nom du client", "Ville de livraison", "Code postal livraison", "Adresse de facturation",
    "Prénom", "Destinataire", "Rue", "Nombre del cliente", "Ciudad de envío", "Dirección de envío",
    "Código postal", "Apellidos", "Teléfono móvil", "Calle", "Naam klant", "Klantnaam", "Verzendadres",
    "Afleverplaats", "Straat en huisnummer", "Woonplaats", "Factuuradres", "Nome cliente", "Cognome",
    "Indirizzo di spedizione", "Città di consegna", "CAP cliente", "Codice postale", "givenName", "familyName",
    "streetAddress", "addressLocality", "CityName", "StreetName", "PostalZone", "Buyer electronic address",
    "Recipient phone", "Consignee name", "billing.first_name", "recipient_line_1", "Livraison nom",
)  # fmt: skip
ABOUT_NOBODY = (
    "Ship date", "Ship via", "Shipping", "Shipping cost", "Delivery date", "Delivery", "Lieferdatum", "Lieferant",
    "Lieferantenname", "Rechnungsnr", "Rechnungsdatum", "Versandkosten", "Versandart", "Livraison",
    "Frais de livraison", "Fecha de entrega", "Gastos de envío", "Factuurnummer", "Verzendkosten", "Leverancier",
    "Data consegna", "Spedizione", "Numero fattura", "Name", "Product name", "Supplier name", "Status", "State",
    "Place", "Customer note", "Customer price", "Buyer paid", "Message from buyer", "Shipping paid by buyer",
    "Number of customers", "Order no", "Delivery note", "Shipping label", "Consignee", "Moved to", "Delivered to",
    "Event", "Where", "Title", "Description", "Country of origin", "Store", "House blend", "Shipping method",
    "Billing period", "Customer discount", "Kundenpreis", "First coat", "Via",
)  # fmt: skip


@pytest.fixture
def shop(tiny_shop: Path, monkeypatch: pytest.MonkeyPatch) -> Shop:
    files = {"inbox/till.csv": TILL, "inbox/sales.csv": SALES, "inbox/cards.csv": CARDS}
    for name, text in (files | {"mappings/till.toml": TILL_MAPPING}).items():
        (tiny_shop / name).parent.mkdir(exist_ok=True)
        (tiny_shop / name).write_text(text, encoding="utf-8")
    monkeypatch.setattr(refresh, "read_plan", lambda: Plan({}, (), "", {}))
    monkeypatch.setattr(refresh, "run_models", lambda *_: None)
    monkeypatch.setattr(refresh, "run_checks", lambda *_: [])
    return load(tiny_shop)


def everything(folder: Path) -> str:
    """All text of all tables of the newest database."""
    with database.open_newest(folder) as con:
        tables = con.execute("select schema_name, table_name from duckdb_tables() where not internal").fetchall()
        assert len(tables) > 20
        return "\n".join(str(con.execute(f'from "{s}"."{t}"').fetchall()) for s, t in tables).casefold()


def test_no_name_reaches_the_database(shop: Shop) -> None:
    summary = refresh.refresh(shop)
    assert summary.counts["loaded"] == 3
    assert summary.counts["set_aside"] == 1
    text = everything(shop.folder)
    assert "tray" in text
    assert [name for name in NAMES if name in text] == []


def test_rows_that_are_no_records_are_counted_without_their_text(shop: Shop) -> None:
    refresh.refresh(shop)
    with database.open_newest(shop.folder) as con:
        lost = con.execute(
            "select row, text from intake.ignored where file = 'inbox/cards.csv' order by row"
        ).fetchall()
    assert lost == [(1, "Customer | Email | Fond of"), (2, None), (3, None)]


def test_rows_written_out_to_be_mended_hold_none(shop: Shop) -> None:
    refresh.refresh(shop)
    with database.open_newest(shop.folder) as con:
        text = corrections.csv_text(corrections.set_aside(shop, rows_of(con, "from intake.rejected"))[0]).casefold()
    assert "soon" in text
    assert [name for name in NAMES if name in text] == []


TORN = (
    "Sold on,Where,What,Price,Buyer name,Address,Event,Remark\n"
    + "".join(f"2026-03-{day:02},market,tray,45.00,Somebody,1 Elm Lane,,fine\n" for day in range(3, 20))
    + "2026-03-20,market,tray,45.00,Marlowe, Quinby,1 Elm Lane,,late\n"  # a comma in the name, without quotes
    + "2026-03-21,market,tray,45.00,Thorne, Zelda, zelda@example.org,+49 171 5550123,2 Oak Lane,,late\n"
    + "2026-03-22,market,tray, big,45.00,Zelda Thorne,2 Oak Lane,,late\n"
)


@pytest.mark.parametrize("known", [True, False], ids=["mapped", "new"])
def test_a_comma_in_a_name_puts_it_in_no_other_field(shop: Shop, known: bool) -> None:
    folder = shop.folder
    (folder / "inbox" / "till.csv").write_text(TORN, encoding="utf-8")
    how = folder / "mappings" / "till.toml"
    how.write_text(f'{TILL_MAPPING}note = "Remark"\nevent = "Event"\n', encoding="utf-8") if known else how.unlink()
    refresh.refresh(load(folder))
    text = everything(folder)
    assert [name for name in NAMES if name in text] == []
    with database.open_newest(folder) as con:
        aside = rows_of(con, "from intake.rejected")
        assert con.execute("select count(*) from records.sales where on_date > date '2026-03-02'").fetchone() == (17,)
    assert {(row["code"], row["text"]) for row in aside} == {("torn", None)}
    written = corrections.csv_text(corrections.set_aside(load(folder), aside)[0])
    assert [name for name in NAMES if name in written.casefold()] == []
    # and what is mended there stands, without what had been moved
    (folder / "mends").mkdir(exist_ok=True)
    mended = written.replace("45.00", "46.00")
    (folder / "mends" / "sales.csv").write_text(mended, encoding="utf-8")
    refresh.refresh(load(folder))
    with database.open_newest(folder) as con:
        query = "select price_cents, note from records.sales where on_date = date '2026-03-20'"
        assert con.execute(query).fetchall() == [(4600, None)]
    assert [name for name in NAMES if name in everything(folder)] == []


@pytest.mark.parametrize(
    "header", ["Buyer name", "Customer", "E-mail", "Ship to", "Shipping Address", "Phone", "Kundenname", "Zip code"]
)
def test_a_mapping_that_names_one_is_refused(tmp_path: Path, header: str) -> None:
    (tmp_path / "m.toml").write_text(
        f'files = "*.csv"\nrecord = "sales"\n[columns]\nnote = "{header}"\n', encoding="utf-8"
    )
    with pytest.raises(UserError, match="about a buyer"):
        mapping.load(tmp_path)


@pytest.mark.parametrize("header", ABOUT_BUYERS)
def test_a_header_about_a_buyer_is_known_in_six_languages(header: str) -> None:
    assert is_private_header(header)


@pytest.mark.parametrize("header", ABOUT_NOBODY)
def test_a_header_about_nobody_is_none(header: str) -> None:
    assert not is_private_header(header)


def test_no_header_that_a_field_is_known_by_is_one() -> None:
    # a town is asked about by the same word as where a piece is
    known = [r["header"] for r in rows("headers") if r["record"] != "private" and is_private_header(r["header"])]
    assert known == ["ort"]


def test_no_record_has_a_field_for_one() -> None:
    assert [f"{r.name}.{f.name}" for r in RECORDS.values() for f in r if is_private_header(f.name)] == []


@pytest.mark.slow
def test_the_buyers_of_the_demo_are_not_in_its_database(demo: Path) -> None:
    inbox = "".join(p.read_text(encoding="utf-8", errors="replace") for p in (demo / "inbox").rglob("*.csv"))
    assert len(re.findall(r"Buyer \d{4}", inbox)) > 100  # else there is nothing to find
    assert re.findall(r"buyer \d{4}", everything(demo)) == []
    raw = database.newest(demo)
    assert raw is not None
    assert not any(f"Buyer {n}".encode() in raw.read_bytes() for n in ("9305", "2893"))
