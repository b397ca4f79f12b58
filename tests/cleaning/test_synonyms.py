"""Words of the vocabularies to their usual names."""

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests_shop import about_of

from pipeline.cleaning import synonyms
from pipeline.cleaning.parsed import About, UnreadableError
from pipeline.cleaning.synonyms import Words
from pipeline.errors import FAULTS
from pipeline.records import CATEGORIES, RECORDS
from pipeline.reference import names, rows
from pipeline.shop import Shop


def find(vocabulary: str, word: str, shop: Shop) -> str | None:
    try:
        return Words(vocabulary, shop).find(word)
    except UnreadableError as fault:
        return fault.code


@pytest.mark.parametrize(
    ("vocabulary", "word", "meaning"),
    [
        ("species", "Walnut", "black walnut"),
        ("species", "Juglans nigra", "black walnut"),
        ("species", "BW", "black walnut"),
        ("species", "Hard  Maple", "sugar maple"),
        ("species", "osage orange", "Osage-orange"),
        ("species", "douglas fir", "Douglas-fir (coast)"),
        ("species", "curly walnut", None),
        ("finish", "Oil & Wax", "oil and wax"),
        ("finish", "oil-and-wax", "oil and wax"),
        ("finish", "hardwax oil", "hard-wax oil"),
        ("finish", "River", "cast river"),
        ("operation", "CNC", "carving"),
        ("operation", "sand", "sanding"),
        ("operation", "Glue-up", "gluing"),
        ("defect", "tear out", "tear-out"),
        ("defect", "torn grain", "torn / chipped grain"),
        ("defect", "Fish Eyes", "fisheye"),
        ("defect", "bubbles", "bubble"),
        ("defect", "ok", "none"),
        ("category", "Epoxy", "resin"),
        ("category", "lumber", "wood"),
        ("category", "colorant", "colourant"),
        ("person", "ada", "Ada"),
        ("machine", "ROUTER ONE", "Router One"),
        ("item", "clear resin", "Clear Resin"),
        ("item", "mystery", None),
    ],
)
def test_usual_names(vocabulary: str, word: str, meaning: str | None, shop: Shop) -> None:
    assert find(vocabulary, word, shop) == meaning


@pytest.mark.parametrize(
    "word", ["soft maple", "SM", "sycamore", "European oak", "wild cherry", "lacewood", "pencil cedar", "soft elm"]
)
def test_a_word_that_fits_two_species_is_asked_about(word: str, plain_shop: Shop) -> None:
    # "soft maple" covers several species; sycamore is Platanus in the US and Acer in the UK (both from memory)
    assert find("species", word, plain_shop) == "ambiguous-word"


def test_the_question_names_both(plain_shop: Shop) -> None:
    with pytest.raises(UnreadableError) as caught:
        Words("species", plain_shop).find("sycamore")
    assert "American sycamore" in caught.value.hint and "sycamore maple" in caught.value.hint


def test_the_shop_settles_it(shop: Shop) -> None:
    assert find("species", "Soft Maple", shop) == "red maple"


@pytest.mark.parametrize("vocabulary", ["species", "finish", "operation", "defect", "category"])
def test_a_usual_name_reads_as_itself(vocabulary: str, plain_shop: Shop) -> None:
    """What is stored can be written in a file again: no usual name is another one's everyday word."""
    meanings = {m for found in names(vocabulary).values() for m in found}
    assert meanings and all(find(vocabulary, meaning, plain_shop) == meaning for meaning in meanings)


def test_the_tables_agree_with_the_records() -> None:
    known = {m for found in names("category").values() for m in found}
    assert known == set(CATEGORIES), "rows of the vocabulary category in reference/words.csv"
    terms = {row["term"] for row in rows("defects")} | {"none"}
    assert {row["meaning"] for row in rows("words") if row["vocabulary"] == "defect"} <= terms
    choices = {(f.name, choice) for record in RECORDS.values() for f in record for choice in f.choices}
    named = {
        (row["vocabulary"], row["meaning"]) for row in rows("words") if row["vocabulary"] in {n for n, _ in choices}
    }
    assert named == choices
    assert all(row["source"] for row in rows("words"))


def test_unknown_words_are_kept_folded_and_listed(shop: Shop) -> None:
    frame = synonyms.words(pl.Series(["Tiger  Bark", "walnut"]), about_of("pieces.species", shop))
    assert frame["value"].to_list() == ["tiger bark", "black walnut"]
    assert frame["unknown"].to_list() == [True, False]


@pytest.mark.parametrize(
    ("field", "word", "meaning"),
    [
        ("pieces.species", "curly walnut", "black walnut"),
        ("pieces.species", "walnut + black resin", "black walnut"),
        ("pieces.species", "walnut and cherry", ""),  # two of them
        ("pieces.species", "blac chery", ""),  # a slip, which is asked about
        ("pieces.finish", "Hardwax oil, 3 coats", "hard-wax oil"),
        ("hours.operation", "rough sanding 80-120", "sanding"),
        ("hours.operation", "sanding and oiling", ""),
        ("hours.operation", "sanding W7", ""),  # it may be a piece
        ("hours.person", "A", "Ada"),
        ("hours.person", "R", ""),
    ],
)
def test_a_known_word_in_an_unknown_one_says_what_it_is(shop: Shop, field: str, word: str, meaning: str) -> None:
    record, _, name = field.partition(".")
    assert Words(RECORDS[record].field(name).vocabulary, shop).inside(word) == meaning


def test_only_vocabularies_with_known_words_list_unknown_ones(shop: Shop, plain_shop: Shop) -> None:
    for where, listed in ((shop, True), (plain_shop, False)):
        frame = synonyms.words(pl.Series(["Zoe"]), about_of("hours.person", where))
        assert frame.row(0)[1:3] == ("Zoe", listed)


def test_the_nearest_known_word(shop: Shop) -> None:
    found = pl.DataFrame(
        {
            "vocabulary": ["species", "species", "operation", "species"],
            "word": ["blak walnut", "curly walnut", "sandng", "zzz"],
            "rows": [1, 5, 2, 9],
        }
    )
    listed = synonyms.unknown_words(found, shop, "a.csv")
    assert dict(listed.select("word", "nearest").rows()) == {
        "blak walnut": "black walnut",
        "curly walnut": "black walnut",
        "sandng": "sanding",
        "zzz": None,
    }
    assert listed.columns == ["vocabulary", "word", "nearest", "rows", "file"]


def test_a_category_must_be_known(shop: Shop) -> None:
    frame = synonyms.words(pl.Series(["hardwre"]), about_of("purchases.category", shop))
    assert frame["code"].to_list() == ["choice"] and "hardware" in frame["hint"][0]


@pytest.mark.parametrize(
    ("field", "word", "choice"),
    [
        ("pieces.status", "WIP", "in progress"),
        ("pieces.status", "Done", "finished"),
        ("inspections.action", "ok", "accept"),
        ("inspections.action", "redo", "rework"),
        ("pours.purpose", "Flood coat", "flood"),
        ("pours.purpose", "re-pour", "repour"),
        ("payments.kind", "Down payment", "deposit"),
        ("sales.returned_to", "restock", "stock"),
        ("counts.cause", "stocktake", "count"),
        ("pieces.status", "whatever", "choice"),
    ],
)
def test_choices(field: str, word: str, choice: str, shop: Shop) -> None:
    row = synonyms.choices(pl.Series([word]), about_of(field, shop)).row(0, named=True)
    assert (row["value"] or row["code"]) == choice


def test_every_choice_reads_as_itself(shop: Shop) -> None:
    for record in RECORDS.values():
        for field in record:
            frame = synonyms.choices(pl.Series(field.choices, dtype=pl.String), About(field, shop))
            assert tuple(frame["value"]) == field.choices


@pytest.mark.parametrize(
    ("word", "value"),
    [("Yes", True), ("x", True), ("✓", True), ("ja", True), ("0", False), ("No", False), ("perhaps", None)],
)
def test_yes_and_no(word: str, value: bool | None, shop: Shop) -> None:
    row = synonyms.yes_no(pl.Series([word]), about_of("hours.rework", shop)).row(0, named=True)
    assert row["value"] is value and (row["code"] == "yes-no") is (value is None)


@given(st.lists(st.text(max_size=30), max_size=20, unique=True))
def test_junk_is_kept_or_set_aside_with_a_reason(texts: list[str]) -> None:
    shop = Shop(about_of("hours.date").shop.folder, {"shop": [{"currency": "EUR", "units": "metric"}]})
    column = pl.Series(texts, dtype=pl.String)
    for reader, field in (
        (synonyms.words, "pieces.species"),
        (synonyms.words, "purchases.category"),
        (synonyms.choices, "pieces.status"),
        (synonyms.yes_no, "hours.rework"),
    ):
        frame = reader(column, about_of(field, shop))
        assert frame.height == len(texts)
        assert frame.filter(pl.col("value").is_null() == pl.col("code").is_null()).is_empty()
        assert set(frame["code"].drop_nulls()) <= set(FAULTS)


@pytest.mark.parametrize(
    ("text", "value", "unknown"),
    [
        ("Sanding for Quinby Marlowe", "sanding", False),
        ("sand für Quinby", "sanding", False),
        ("frob for Quinby", "frob for quinby", True),
        ("forming", "forming", True),
    ],
)
def test_whom_work_was_for_makes_no_operation(text: str, value: str, unknown: bool, plain_shop: Shop) -> None:
    about = about_of("hours.operation", plain_shop)
    assert synonyms.words(pl.Series([text]), about).select("value", "unknown").row(0) == (value, unknown)
