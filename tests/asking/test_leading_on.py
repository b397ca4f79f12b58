"""An answer leads on: what is told of one column takes nothing from the others, and a table that is clear to its maker
is in by answers alone, in whatever language."""

from pathlib import Path

import pytest

from pipeline.asking.gather import with_times
from pipeline.proposing.question import TOGETHER, Question
from pipeline.proposing.suggestion import suggest
from pipeline.refresh.read_files import FilesRead, read_files
from pipeline.shop import Shop, load
from tests.proposing.test_evidence import table

SHOP = 'name = "A"\ncurrency = "SEK"\nstart = 2025-01-01\n'


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    (tmp_path / "inbox").mkdir()
    (tmp_path / "mappings").mkdir()
    (tmp_path / "shop.toml").write_text(SHOP, encoding="utf-8")
    return load(tmp_path)


def read(shop: Shop, name: str, text: str, told: str = "") -> FilesRead:
    (shop.folder / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
    if told:
        says = f'files = "{name}.csv"\nrest = "ask"\n{told}\n'
        (shop.folder / "mappings" / f"{name}.toml").write_text(says, encoding="utf-8")
    return read_files(shop, lambda _: None)


def about(pile: FilesRead) -> dict[str, Question]:
    return {f"{each.question.kind} {each.question.field}".strip(): each.question for each in pile.asked}


AMOUNTS = (-120, 80, -45, 300, -60, 15, -210, 99)
BALANCES = [sum(AMOUNTS[: at + 1]) + 1000 for at in range(len(AMOUNTS))]


def test_a_sign_still_says_which_way_money_went_once_the_amount_was_told(shop: Shop) -> None:
    rows = "".join(f"2025-03-{at + 10};{AMOUNTS[at]},50\n" for at in range(8))
    pile = read(shop, "konto", f"Zib;Kwota\n{rows}", 'record = "payments"\n[columns]\namount = "Kwota"\ndate = "Zib"')
    assert "needed kind" not in about(pile)
    assert pile.cleaned[0].frame["amount_cents"].len() == 8


def test_columns_of_money_in_and_out_stay_so_once_another_column_was_told(shop: Shop) -> None:
    cells = [(f"{-a},00" if a < 0 else "", f"{a},00" if a > 0 else "") for a in AMOUNTS]
    rows = "".join(f"2025-03-{at + 10};{out};{come};{BALANCES[at]},00\n" for at, (out, come) in enumerate(cells))
    pile = read(shop, "konto", f"Zib;Vrel;Nux;Quor\n{rows}", 'record = "payments"\n[columns]\ndate = "Zib"')
    (payments,) = pile.cleaned
    assert payments.rejected.is_empty()
    assert payments.frame["amount_cents"].abs().sum() == 100 * sum(map(abs, AMOUNTS))


def test_a_count_without_a_day_may_be_of_the_start_or_of_a_years_end(shop: Shop) -> None:
    told = 'record = "counts"\n[columns]\nitem = "Vara"\nquantity = "Antal"\nunit = "Enhet"'
    pile = read(shop, "lager", "Vara;Antal;Enhet\noxe;4;kg\nvax;2;l\nlim;3;kg\nlack;1;l\nbets;2;l\n", told)
    assert not pile.trips
    (asked,) = with_times([each for each in pile.asked if each.question.field == "date"], shop)
    days = [choice.label for choice in asked.question.choices if "constants" in choice.mapping]
    assert days[:2] == ["in all rows: 2025-01-01", "in all rows: 2025-12-31"]
    assert asked.question.choices[0].label == days[0]


def test_which_column_a_field_is_leaves_none_out_that_may_be_another(shop: Shop) -> None:
    """Of two columns of strange words one is the product: the other is the wood, and no less in the file."""
    rows = [
        [f"B-{at}", ("bricka", "pall")[at % 2], ("ek", "alm")[at // 2 % 2], f"2025-03-{at + 10}"] for at in range(12)
    ]
    found = suggest(table(["Märkning", "Sak", "Träslag", "Klar"], *rows), shop, "a.csv", "pieces")
    says = [choice.mapping for q in found.questions for choice in q.choices if q.kind in ("which", "needed")]
    assert {"product"} <= {name for each in says for name in each.get("columns", {})}
    assert not any(set(each.get("left_out", ())) & {"Sak", "Träslag"} for each in says if "columns" in each)


HOURS = ["Zib", "Vrel", "Nux", "Quor"]
WORKED = [[f"2025-03-{at + 10}", ("slipa", "såga", "olja")[at % 3], f"0:{at + 20}", f"B-{at % 5}"] for at in range(12)]


def test_columns_that_are_likely_what_they_seem_are_asked_about_at_once(shop: Shop) -> None:
    found = suggest(table(HOURS, *WORKED), shop, "a.csv", "hours")
    (asked,) = [question for question in found.questions if question.kind == TOGETHER]
    yes, each = asked.choices[:2]
    told = {"operation": "Vrel", "pieces": "Quor"}
    assert yes.mapping["columns"].items() >= told.items() and each.mapping["rest"] == "each"
    assert not asked.fields & {question.field for question in found.questions if question.kind == "column"}


def test_one_answer_lets_in_the_table_that_is_what_it_seems(shop: Shop) -> None:
    text = "\n".join(";".join(row) for row in [HOURS, *WORKED])
    asked = about(read(shop, "tid", text, 'record = "hours"'))[TOGETHER]
    columns = "\n".join(f'{name} = "{header}"' for name, header in asked.choices[0].mapping["columns"].items())
    (hours,) = read(shop, "tid", text, f'record = "hours"\n[columns]\n{columns}').cleaned
    assert hours.frame["operation"].unique().sort().to_list() == ["olja", "slipa", "såga"]
    assert hours.frame["pieces"].explode().n_unique() == 5


def test_what_is_not_all_as_it_seems_is_asked_about_column_by_column(shop: Shop) -> None:
    text = "\n".join(";".join(row) for row in [HOURS, *WORKED])
    (shop.folder / "inbox" / "tid.csv").write_text(text, encoding="utf-8")
    says = 'files = "tid.csv"\nrest = "each"\nrecord = "hours"\n'
    (shop.folder / "mappings" / "tid.toml").write_text(says, encoding="utf-8")
    kinds = {each.question.kind for each in read_files(shop, lambda _: None).asked}
    assert "column" in kinds and TOGETHER not in kinds


def test_a_column_of_a_table_that_may_hold_another_record_says_so_too(shop: Shop) -> None:
    """Where the rows are not what they are taken for, no answer about a column is right: others are offered."""
    rows = [[f"2025-03-{at + 10}", f"B-{at}", ("bricka", "pall")[at % 2], f"{at * 7 + 150}"] for at in range(12)]
    found = suggest(table(["Dag", "Märkning", "Sak", "Betalt"], *rows), shop, "a.csv")
    assert found.records[found.record] < 0.98
    for question in found.questions:
        assert {choice.mapping["record"] for choice in question.choices} - {found.record}, question.ask


def test_what_counts_beside_a_price_is_the_quantity(shop: Shop) -> None:
    """Three of 2.40 are 7.20: the whole numbers count, the others are prices."""
    lines = [(at, at % 7 + 2, 240 + 10 * at) for at in range(12)]
    rows = [
        [f"2025-03-{at + 10}", f"K{at}", f"vax {at}", str(count), f"{each / 100:.2f}", f"{count * each / 100:.2f}"]
        for at, count, each in lines
    ]
    found = suggest(table(["Dag", "Kvitto", "Vara", "Zib", "Vrel", "Nux"], *rows), shop, "a.csv", "purchases")
    fields = {column.header: column.field for column in found.columns}
    assert (fields["Zib"], fields["Vrel"], fields["Nux"]) == ("quantity", "", "amount")


@pytest.mark.parametrize("first", [1, 7])
def test_numbers_that_only_count_the_rows_are_no_quantity(shop: Shop, first: int) -> None:
    """A till numbers its rows, on from where its last file ended: they are no amounts, nor asked about as such."""
    rows = [[f"{first + at}", f"2025-03-{at + 10}", "market", f"W-{at}", f"{3 * at}.50"] for at in range(14)]
    found = suggest(table(["No.", "Date", "Channel", "Piece", "Price"], *rows), shop, "a.csv")
    assert found.columns[0].field != "quantity"
    assert not [question.ask for question in found.questions if question.asked and question.holds]


def test_short_words_half_of_which_are_units_are_units(shop: Shop) -> None:
    units = ("szt.", "kg", "l", "kpl")
    rows = [[f"2025-03-{at + 10}", f"vax {at}", str(at % 7 + 2), units[at % 4]] for at in range(12)]
    found = suggest(table(["Dag", "Vara", "Zib", "Vrel"], *rows), shop, "a.csv", "usage")
    fields = {column.header: column.field for column in found.columns}
    assert (fields["Zib"], fields["Vrel"]) == ("quantity", "unit")
