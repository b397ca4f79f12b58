"""What speaks for a field: the words of a header, and what columns say of each other row by row."""

from pathlib import Path

import pytest

from pipeline.proposing import header_names
from pipeline.proposing.row_relations import relations
from pipeline.proposing.suggestion import suggest
from pipeline.readers.reader_output import TextTable, frame_of, ignored_of
from pipeline.records import RECORDS
from pipeline.shop import Shop, load


@pytest.fixture
def shop(tiny_shop: Path) -> Shop:
    return load(tiny_shop)


def table(names: list[str], *rows: list[object]) -> TextTable:
    cells = [[None if cell is None else str(cell) for cell in row] for row in rows]
    return TextTable("", tuple(names), frame_of(cells, range(2, 2 + len(rows)), len(names)), ignored_of([]))


def weight(header: str, record: str, field: str) -> float:
    return header_names.weight(header, record, field, RECORDS[record].field(field).kind)


@pytest.mark.parametrize(
    ("header", "record", "field"),
    [
        ("LineExtensionAmount", "purchases", "amount"),  # OASIS UBL 2.1
        ("Invoice line net amount", "purchases", "amount"),  # EN 16931-1:2017, BT-131
        ("BookgDt", "payments", "date"),  # ISO 20022 camt.053
        ("orderNumber", "orders", "order_no"),  # schema.org/Order
        ("Gesamt-Rechnungsdatum", "purchases", "date"),  # a compound of a known word
        ("Quantitá", "purchases", "quantity"),  # a slip
    ],
)
def test_a_known_header_or_one_near_it_speaks_for_its_field(header: str, record: str, field: str) -> None:
    of_all = {f.name: weight(header, record, f.name) for f in RECORDS[record]}
    assert of_all[field] > 0 and max(of_all, key=lambda name: of_all[name]) == field


def test_a_header_that_is_known_as_another_field_speaks_against() -> None:
    assert weight("Supplier", "purchases", "item") < weight("Zwickel", "purchases", "item") < 0


TOTALS = [[n, p, n * p / 100] for n, p in ((2, 350), (3, 1299), (7, 45), (4, 220), (5, 999), (12, 81))]


def test_quantity_times_price_is_the_total(shop: Shop) -> None:
    rows = [[n, f"{p / 100:.2f}", f"{t:.2f}"] for n, p, t in TOTALS]
    found = relations(table(["x", "y", "z"], *rows), ["c0", "c1", "c2"], shop)
    assert found["purchases"]["c2", "amount"] > 0 > found["purchases"]["c1", "amount"]
    assert found["sales"]["c1", "price"] > 0 > found["sales"]["c2", "price"]


def test_the_price_of_each_and_the_total_are_told_apart_without_a_word(shop: Shop) -> None:
    """Both are called Betrag and something that nobody knows: the rows say which is the line."""
    rows = [
        [
            f"{at + 13}.05.2026",
            "Nussbaum",
            "Holz",
            f"{n} Stk",
            f"{p / 100:.2f}".replace(".", ","),
            f"{t:.2f}".replace(".", ","),
        ]
        for at, (n, p, t) in enumerate(TOTALS)
    ]
    found = suggest(table(["Datum", "Artikel", "Kategorie", "Menge", "Zwickel", "Betrag"], *rows), shop, "einkauf.csv")
    fields = {guess.header: guess.field for guess in found.columns}
    assert (fields["Betrag"], fields["Zwickel"]) == ("amount", "")


def test_net_and_tax_are_the_gross(shop: Shop) -> None:
    rows = [[f"{n:.2f}", f"{n * 0.2:.2f}", f"{n * 1.2:.2f}"] for n in (10, 25.5, 40, 99, 7.5, 12)]
    found = relations(table(["a", "b", "c"], *rows), ["c0", "c1", "c2"], shop)["purchases"]
    assert found["c0", "amount"] > 0 and found["c1", "tax"] > 0 > found["c2", "amount"]


@pytest.mark.parametrize("newest_first", [False, True])
def test_a_balance_runs(shop: Shop, newest_first: bool) -> None:
    balance, rows = 500.0, []
    for amount in (12.5, -40.0, 99.9, -7.1, 250.0, -13.37):
        balance += amount
        rows.append([f"{amount:.2f}", f"{balance:.2f}"])
    rows = rows[::-1] if newest_first else rows
    found = relations(table(["a", "b"], *rows), ["c0", "c1"], shop)["payments"]
    assert found["c1", "balance"] > 0 > found["c1", "amount"] and found["c0", "amount"] > 0


def test_work_begins_before_it_ends(shop: Shop) -> None:
    rows = [[f"2026-05-{day + 9:02}", f"2026-05-{day:02}"] for day in (1, 3, 4, 9, 12, 18)]
    found = relations(table(["a", "b"], *rows), ["c0", "c1"], shop)["pieces"]
    assert found["c1", "started"] > 0 > found["c0", "started"] and found["c0", "finished"] > 0


def test_numbers_that_count_the_rows_are_no_quantity(shop: Shop) -> None:
    rows = [[at, 5 + at % 3] for at in range(1, 9)]
    found = relations(table(["a", "b"], *rows), ["c0", "c1"], shop)["usage"]
    assert found["c0", ""] > 0 and found.get(("c1", ""), 0) == 0


def test_a_column_that_is_called_as_a_field_and_cannot_be_read_as_it_is_asked_about(shop: Shop) -> None:
    rows = [[f"2026-05-{day}", "sanding", "1:00", word] for day, word in ((13, "soon"), (14, "later"), (15, "then"))]
    found = suggest(table(["date", "operation", "hours", "started_at"], *rows), shop, "hours.csv")
    assert any("started_at" in question.ask for question in found.questions)


@pytest.mark.parametrize(
    ("one", "other"), [("Hars A (g)", "Hars B (g)"), ("Harz A", "Harz B"), ("Mix A", "Mix B"), ("Part A g", "Part B g")]
)
def test_two_components_are_told_apart_by_their_letters(one: str, other: str) -> None:
    def weights(header: str) -> list[float]:
        return [header_names.weight(header, "pours", part, "quantity") for part in ("part_a", "part_b")]

    assert weights(one)[0] > weights(one)[1]
    assert weights(other)[1] > weights(other)[0]
