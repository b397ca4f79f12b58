"""Whether sales' rows show that their price is for each or for the row; and at which channel they were made."""

from pathlib import Path

import pytest

from pipeline.proposing.suggestion import suggest
from pipeline.shop import Shop, load
from tests.proposing.test_evidence import table

TWICE = [("Untersetzer", 1, "9,00"), ("Untersetzer", 2, "18,00"), ("Untersetzer", 4, "36,00"), ("Brett", 1, "29,00")]
ALIKE = [("Untersetzer", 1, "9,00"), ("Untersetzer", 2, "9,00"), ("Untersetzer", 4, "9,00"), ("Brett", 1, "29,00")]
BARGAIN = [("Untersetzer", 1, "9,00"), ("Untersetzer", 2, "16,00"), ("Untersetzer", 4, "28,00"), ("Brett", 1, "29,00")]


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    (tmp_path / "shop.toml").write_text('currency = "EUR"\nstart = 2026-01-01\nname = "A"\n', encoding="utf-8")
    return load(tmp_path)


@pytest.mark.parametrize(
    ("rows", "header", "price_for", "asked"),
    [
        (TWICE, "Netto", "row", False),
        (ALIKE, "Netto", "each", False),
        (BARGAIN, "Netto", "", True),
        (TWICE, "Preis", "row", False),  # what the rows show is surer than a word
        (BARGAIN, "Preis", "", False),
    ],
)
def test_rows_of_one_thing_show_what_a_price_is_for(
    shop: Shop, rows: list[tuple[str, int, str]], header: str, price_for: str, asked: bool
) -> None:
    sold = [[f"{day}.03.2026", "Markt", *rows[day % 4]] for day in range(13, 25)]
    found = suggest(table(["Datum", "Kanal", "Artikel", "Anzahl", header], *sold), shop, "verkauf.csv")
    assert (found.record, found.mapping.price_for) == ("sales", price_for)
    assert any(question.kind == "each" for question in found.questions) is asked


def test_rows_that_each_name_their_fair_were_sold_at_a_market(shop: Shop) -> None:
    sold = [[f"{day}.03.2026", "Messe Ost", *TWICE[day % 4]] for day in range(13, 25)]
    header = ["Datum", "Markt", "Artikel", "Anzahl", "Netto"]
    assert suggest(table(header, *sold), shop, "verkauf.csv").mapping.constants == {"channel": "market"}
    sold[3][1] = ""
    found = suggest(table(header, *sold), shop, "verkauf.csv")
    assert "channel" not in found.mapping.constants
    assert found.questions
