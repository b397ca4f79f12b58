"""Layouts that a proposal finds by itself: money in and out, a direction, a gross price, sizes, work with pieces."""

from pathlib import Path

import pytest

from pipeline.cleaning import clean
from pipeline.proposing.suggestion import choose_or_ask
from pipeline.readers import read
from pipeline.readers.sections import without_sections
from pipeline.shop import load


@pytest.fixture
def chosen(tmp_path: Path):
    def of(text: str, name: str = "a.csv", settings: str = ""):
        (tmp_path / "shop.toml").write_text(f'start = 2026-01-01\ncurrency = "EUR"\n{settings}', encoding="utf-8")
        shop = load(tmp_path)
        (tmp_path / name).write_text(text, encoding="utf-8")
        (table,) = map(without_sections, read(tmp_path / name))
        how, questions = choose_or_ask([], name, table, shop)
        return how, questions, clean(table, how, shop, name) if how else None

    return of


KINDS = ("supplier", "payout", "supplier", "drawing", "supplier", "payout")


def bank(header: str, *, ways: tuple[str, str] | None = None, balance: bool = False) -> str:
    """Six rows of a bank, in two columns or with a word for the way."""
    rows, left = [], 1000.0
    for at, kind in enumerate(KINDS):
        come, amount = kind == "payout", 20.5 + at
        left += amount if come else -amount
        cells = ["", f"{amount:.2f}"] if come else [f"{amount:.2f}", ""]
        if ways:
            cells = [f"{amount:.2f}", ways[come]]
        rows.append(";".join([f"{at + 11}.01.2026", kind, *cells, *([f"{left:.2f}"] * balance)]))
    return "\n".join([header, *rows]) + "\n"


CENTS = [2050, 2150, 2250, 2350, 2450, 2550]


@pytest.mark.parametrize(
    "header", ["Datum;Art;Soll;Haben", "Date;Kind;Debit;Credit", "Date;Kind;Débit;Crédit", "Datum;Soort;Af;Bij"]
)
def test_money_out_and_in_by_their_headers(chosen, header):
    how, questions, found = chosen(bank(header))
    assert how, questions
    assert (how.record, set(how.helpers)) == ("payments", {"money_out", "money_in"})
    assert found.frame["amount_cents"].to_list() == CENTS
    assert not questions


def test_money_out_and_in_by_the_balance_whatever_they_are_called(chosen):
    how, questions, found = chosen(bank("Datum;Art;weg;da;Saldo", balance=True), "bank.csv")
    assert how, questions
    assert how.helpers == {"money_out": "weg", "money_in": "da"}
    assert found.frame["amount_cents"].to_list() == CENTS


def test_two_columns_that_nothing_tells_apart_are_taken_for_neither(chosen):
    how, _, _ = chosen(bank("Datum;Art;weg;da"), "bank.csv")
    assert how is None or not how.helpers


@pytest.mark.parametrize("ways", [("DBIT", "CRDT"), ("Soll", "Haben"), ("out", "in"), ("af", "bij")])
def test_a_direction_by_its_words(chosen, ways):
    how, questions, found = chosen(bank("Datum;Art;Betrag;Weg", ways=ways))
    assert how, questions
    assert (how.record, how.helpers) == ("payments", {"direction": "Weg"})
    assert found.frame["amount_cents"].to_list() == CENTS


def test_a_direction_by_words_that_the_shop_has_taught(chosen):
    text, taught = bank("Datum;Art;Betrag;Weg", ways=("zk", "qk")), '[words.direction]\nzk = "out"\nqk = "in"\n'
    assert not (chosen(text)[0] and chosen(text)[0].helpers)
    how, questions, found = chosen(text, settings=taught)
    assert how, questions
    assert (how.record, how.helpers) == ("payments", {"direction": "Weg"})
    assert found.frame["amount_cents"].to_list() == CENTS


BOUGHT = """Datum;Lieferant;Artikel;Menge;Netto;Brutto
05.01.2026;Ost;Eichenbohle;12 kg;100,00;119,00
16.01.2026;Ost;Schrauben;20;10,00;11,90
17.01.2026;Ost;Epoxidharz;2 l;33,33;39,66
18.01.2026;Ost;Leim;1 l;8,00;8,56
19.01.2026;Ost;Nussbaumbretter;9 kg;200,00;238,00
"""


def test_net_and_gross_side_by_side_and_a_category_that_the_item_tells(chosen):
    how, questions, found = chosen(BOUGHT)
    assert how, questions
    assert (how.record, how.columns["amount"], how.helpers) == ("purchases", "Netto", {"gross": "Brutto"})
    assert "total" not in how.columns
    assert found.frame["tax_cents"].to_list() == [1900, 190, 633, 56, 3800]
    assert found.frame["category"].to_list() == ["wood", "hardware", "resin", "consumable", "wood"]
    assert found.rejected.is_empty()


def test_a_gross_that_a_row_denies_is_no_gross(chosen):
    how, _, _ = chosen(BOUGHT.replace("39,66", "45,00"))
    assert how is None or not how.helpers


WITH_TAX = (
    *("Price incl tax", "Price_incl_tax", "price-incl.-tax", "PriceInclTax", "PRICE INC TAX", "Gross_price"),
    *("Preis (inkl. MwSt.)", "Preis_brutto", "Bruttopreis", "Prix TTC", "Prix_TTC", "Precio_IVA_incluido"),
    *("Prezzo IVA inclusa", "Prijs_incl_btw"),
)


@pytest.mark.parametrize("header", WITH_TAX)
@pytest.mark.parametrize("record", ["sales", "purchases"])
def test_a_header_that_says_the_tax_is_in_it_is_asked_about_however_it_is_written(chosen, record, header):
    if record == "sales":
        text = f"Date;Channel;Product;{header}\n05.01.2026;online;tray;119,00\n16.01.2026;online;clock;238,00\n"
    else:
        text = (
            f"Date;Supplier;Item;Category;{header}\n05.01.2026;Ost;oil;finish;119,00\n16.01.2026;Ost;oil;finish;23,80\n"
        )
    how, questions, _ = chosen(text, f"{record}.csv")
    assert how is None
    (question,) = questions
    wanted = {"sales": "price", "purchases": "amount"}[record]
    says = [choice.mapping for choice in question.choices if choice.mapping.get("columns", {}).get(wanted) == header]
    assert question.kind in ("taxed", "needed")
    assert says
    assert all("tax_included" in told for told in says)  # no answer takes it in without a word on its tax
    assert [c for c in question.choices if c.mapping.get("tax_included") or c.mapping.get("helpers")]


@pytest.mark.parametrize("header", ["Amount incl tax", "Gross_amount"])
def test_what_moved_at_the_bank_is_asked_for_no_tax(chosen, header):
    text = f"Date;Kind;{header}\n05.01.2026;supplier;119,00\n16.01.2026;payout;238,00\n"
    how, questions, _ = chosen(text, "payments.csv")
    assert how or questions
    assert "taxed" not in {question.kind for question in questions}
    assert not [choice for question in questions for choice in question.choices if choice.mapping.get("helpers")]


def test_fields_are_named_in_words_where_they_are_asked_about(chosen):
    text = "Date;Channel;Product;Price;Sold_fee;Fee of channel\n05.01.2026;online;tray;119,00;3,50;2,25\n"
    _, questions, _ = chosen(text, "sales.csv")
    assert questions
    assert not [question.ask for question in questions if "channel_fee" in question.ask]


def test_sizes_in_one_cell_whatever_they_are_called(chosen):
    text = (
        "Nr;Produkt;Ausdehnung;fertig\nSB-002;Brett;30 x 20 x 2 cm;05.01.2026\nSB-003;Brett;31 x 20 x 2 cm;16.01.2026\n"
    )
    how, questions, found = chosen(text, "stücke pieces.csv")
    assert how, questions
    assert found.frame.select("length_um", "width_um", "thickness_um").row(0) == (300_000, 200_000, 20_000)


def test_work_with_its_pieces_is_the_operation(chosen):
    text = "Tag;Wer;Dauer;Gemacht\n05.01.2026;Ann;1:30;Schleifen SB-002\n16.01.2026;Ann;1:45;Ölen SB-002, sb-003\n"
    text += "17.01.2026;Ann;1:15;epoxy pour SB-002\n"
    how, questions, found = chosen(text)
    assert how, questions
    assert found.frame.select("operation", "pieces").rows() == [
        ("sanding", ["SB-002"]), ("finishing", ["SB-002", "SB-003"]), ("pouring", ["SB-002"]),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "header",
    [
        "Datum;Lieferant;Bezeichnung;Menge;Einzelpreis",
        "Date;Supplier;Item;Qty;Unit price",
        "Datum;Leverancier;Omschrijving;Aantal;Prijs per stuk",
        "Date;Fournisseur;Désignation;Quantité;Prix unitaire",
    ],
)
def test_where_only_the_price_of_one_stands_the_row_is_reckoned(chosen, header):
    """EN 16931-1, BT-131: the line's net amount is its quantity times the item's net price."""
    rows = "".join(f"2026-01-{day};Mill;hinge;{day};1.15\n" for day in range(11, 18))
    how, _, cleaned = chosen(f"{header}\n{rows}")
    assert (how.record, how.price_for) == ("purchases", "each")
    assert cleaned.frame["amount_cents"].to_list() == [day * 115 for day in range(11, 18)]


def test_a_line_total_beside_the_price_of_one_is_what_is_taken(chosen):
    rows = "".join(f"2026-01-{day};Mill;hinge;{day};1.15;{day * 1.15:.2f}\n" for day in range(11, 18))
    how, _, cleaned = chosen(f"Date;Supplier;Item;Qty;Unit price;Line total\n{rows}")
    assert (how.columns["amount"], how.price_for) == ("Line total", "")
    assert cleaned.frame["amount_cents"].to_list() == [day * 115 for day in range(11, 18)]


SOLD_WITH_TAX = {
    "Montant TTC": [("119,00", "19,00"), ("59,50", "9,50"), ("238,00", "38,00"), ("10,70", "0,70")],
    "Prix": [("119,00", "19,00"), ("59,50", "9,50"), ("238,00", "38,00"), ("77,35", "12,35")],
}


@pytest.mark.parametrize("header", SOLD_WITH_TAX)
@pytest.mark.parametrize("record", ["sales", "purchases"])
def test_a_price_that_holds_the_tax_beside_it_is_parted_without_a_question(chosen, record, header):
    """19 of 119 is 19 % of what is left, the German rate, and no rate of 119; a header that says so allows any."""
    before, first = {
        "sales": ("Lieu de vente;Pièce", "market;W-"), "purchases": ("Article;Catégorie", "huile;finish"),
    }[record]  # fmt: skip
    rows = [
        f"{at + 11}.01.2026;{first}{at if record == 'sales' else ''};{tax};{gross}"
        for at, (gross, tax) in enumerate(SOLD_WITH_TAX[header])
    ]
    how, questions, found = chosen("\n".join([f"Date;{before};TVA;{header}", *rows]) + "\n", f"{record}.csv")
    assert how, questions
    assert (how.record, how.helpers, questions) == (record, {"gross": header}, ())
    money = {"sales": "price_cents", "purchases": "amount_cents"}[record]
    net = [10000, 5000, 20000, 1000 if header == "Montant TTC" else 6500]
    assert found.frame.sort("row")[money].to_list() == net
    assert found.rejected.is_empty()


def test_a_price_with_its_tax_on_top_stays_as_it_stands(chosen):
    rows = "".join(
        f"{at + 11}.01.2026;market;W-{at};{price},00;{price * 19 // 100},{price * 19 % 100:02}\n"
        for at, price in enumerate((100, 250, 75, 40))
    )
    how, questions, found = chosen(f"Date;Lieu de vente;Pièce;Prix;TVA\n{rows}", "sales.csv")
    assert how, questions
    assert not how.helpers
    assert found.frame["price_cents"].to_list() == [10000, 25000, 7500, 4000]
