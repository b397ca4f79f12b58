"""The generator of piles makes what it says: its truth is what stands in its files, and its halves share no word."""

from pathlib import Path

import pytest

from pipeline.cleaning import clean
from pipeline.mapping import Mapping
from pipeline.readers import read
from pipeline.records import RECORDS
from pipeline.shop import load
from tests.piles.measure import _faults, measured
from tests.piles.pile import LAYOUTS, TrueTable, make
from tests.piles.words import HALVES, LANGUAGES, STANDARDS, headers, of_half

HARD = {
    "category known from the item alone",
    "sizes in one cell",
    "several facts in a cell",
    "tax in the price",
    "debit and credit in two columns",
    "a direction beside the amount",
    *LAYOUTS,
}
"""Ways of writing that a plain mapping of columns doesn't settle by itself."""
SOURCES = (*LANGUAGES, *STANDARDS)


@pytest.mark.parametrize("half", HALVES)
def test_one_seed_makes_one_pile(tmp_path: Path, half: str) -> None:
    one, two = make(tmp_path / "one", 5, half), make(tmp_path / "two", 5, half)
    assert one == two
    texts = [path.name for path in sorted((tmp_path / "one" / "inbox").iterdir())]
    assert texts == sorted(truth.file for truth in one)


def test_the_halves_of_a_source_share_no_word() -> None:
    for concept, source in headers():
        tune, kept = (set(of_half(concept, source, half)) for half in HALVES)
        assert not tune & kept
        assert tune | kept == set(headers()[concept, source])


def test_every_concept_names_a_field_of_its_record() -> None:
    others = {"minutes", "size", "tax", "debit", "credit", "direction"}
    for concept, source in headers():
        assert source in SOURCES
        record, _, field = concept.partition(".")
        if record in RECORDS:
            assert field in {f.name for f in RECORDS[record]} | others


def test_about_one_file_in_ten_holds_no_record_and_one_column_in_five_no_field(tmp_path: Path) -> None:
    made = [truth for seed in range(30) for truth in make(tmp_path / str(seed), seed, HALVES[seed % 2])]
    assert 0.05 < sum(not truth.record for truth in made) / len(made) < 0.16
    fields = [field for truth in made if truth.record for field in truth.fields.values()]
    assert 0.15 < fields.count("") / len(fields) < 0.27
    assert {truth.language for truth in made} == set(LANGUAGES)
    assert {truth.source for truth in made} >= {"UBL 2.1", "EN 16931", "schema.org"}
    assert {habit for truth in made for habit in truth.habits} >= HARD


@pytest.mark.parametrize("seed", range(4))
def test_by_the_true_mapping_the_rows_say_what_is_true(tmp_path: Path, seed: int) -> None:
    """Read by a mapping that names each field's header, a table without hard habits gives its truth, row by row."""
    truths = make(tmp_path, seed, "tune")
    shop, compared = load(tmp_path), 0
    for truth in truths:
        if not truth.record or truth.habits & HARD or truth.language != "en":
            continue
        (table,) = read(tmp_path / "inbox" / truth.file)
        mapping = Mapping("true", record=truth.record, columns={f: h for h, f in truth.fields.items() if f})
        cleaned = clean(table, mapping, shop, truth.file)
        assert cleaned.rejected.is_empty(), (truth, cleaned.rejected.to_dicts()[:2])
        for row in cleaned.frame.to_dicts():
            assert _faults(truth, row["row"], truth.record, row) == set(), (truth.fields, row)
            compared += 1
        assert cleaned.frame.height == len(truth.rows)
    assert compared or not any(_plain(truth) for truth in truths)


def _plain(truth: TrueTable) -> bool:
    return bool(truth.record) and truth.language == "en" and not truth.habits & HARD


def test_what_is_loaded_of_a_list_that_is_none_of_ours_is_wrong(tmp_path: Path) -> None:
    (tmp_path / "inbox").mkdir()
    (tmp_path / "shop.toml").write_text('name = "A"\ncurrency = "EUR"\nstart = 2026-01-01\n', encoding="utf-8")
    text = "date,person,operation,hours\n2026-03-01,Ada,sanding,1:00\n"
    (tmp_path / "inbox" / "list.csv").write_text(text, encoding="utf-8")
    truth = TrueTable("list.csv", "", "", "en", "en", {"date": ""}, {}, frozenset())
    found = measured(tmp_path, [truth])
    assert (found.wrong, found.right, found.rows) == (1, 0, 0)
