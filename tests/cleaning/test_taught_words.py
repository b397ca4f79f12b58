"""Words that a shop teaches: each vocabulary takes them, and what is taught in vain is told with its line."""

from pathlib import Path

import polars as pl
import pytest

from pipeline.asking.answer import answer
from pipeline.cleaning import KINDS
from pipeline.cleaning.parsed import About
from pipeline.cleaning.taught_words import CHOICES, VOCABULARIES, not_understood
from pipeline.cleaning.units import Units
from pipeline.database import open_newest
from pipeline.records import RECORDS
from pipeline.reference import names
from pipeline.refresh.refresh import refresh
from pipeline.shop import load
from tests.refreshed import begun

FIELDS = {
    field.vocabulary or field.name: field
    for record in RECORDS.values()
    for field in record
    if field.kind in ("word", "choice", "yes_no")
}


def taught(folder: Path, text: str) -> Path:
    path = folder / "shop.toml"
    path.write_text(f"{path.read_text(encoding='utf-8')}\n{text}", encoding="utf-8")
    return folder


@pytest.mark.parametrize("vocabulary", [name for name in VOCABULARIES if name in FIELDS and name != "yes_no"])
def test_a_word_can_be_taught_of_each_vocabulary(tiny_shop: Path, vocabulary: str) -> None:
    known = sorted(names(vocabulary).values(), key=sorted)
    meaning = CHOICES.get(vocabulary, tuple(next(iter(known[0])) for _ in known[:1]) or ("a name",))[0]
    shop = load(taught(tiny_shop, f'[words.{vocabulary}]\n"zwirbel" = "{meaning}"\n'))
    field = FIELDS[vocabulary]
    read = KINDS[field.kind].read(pl.Series("text", ["Zwirbel"]), About(field, shop))
    assert read["value"].to_list() == [meaning] and list(not_understood(shop)) == []


def test_words_for_the_way_money_went_can_be_taught_too(tiny_shop: Path) -> None:
    (tiny_shop / "inbox" / "bank.csv").write_text(
        "date,kind,way,amount\n2026-01-05,supplier,sideways,119\n2026-01-06,payout,in,20\n", encoding="utf-8"
    )
    (tiny_shop / "mappings").mkdir()
    columns = '[columns]\ndate = "date"\nkind = "kind"\namount = "amount"\n[helpers]\ndirection = "way"\n'
    (tiny_shop / "mappings" / "bank.toml").write_text(f'files = "bank.csv"\nrecord = "payments"\n{columns}')
    refresh(load(begun(tiny_shop)))
    with open_newest(tiny_shop) as con:
        (found,) = con.execute("select question, ask from intake.question").fetchall()
        labels = con.execute("select label from intake.question_choice order by choice").fetchall()
    asked = "Did money come in or go out, where it says “sideways”? It stands in inbox/bank.csv, column “way”, row 2: "
    assert (found[1], sorted(labels)) == (f"{asked}2026-01-05, supplier, sideways, 119.", [("in",), ("out",)])
    answer(tiny_shop, found[0], 1 + labels.index(("out",)))
    assert load(tiny_shop).words == {"direction": {"sideways": "out"}}
    refresh(load(begun(tiny_shop)))
    with open_newest(tiny_shop) as con:
        assert con.execute("select kind, amount_cents from records.payments order by on_date").fetchall() == [
            ("supplier", 11900), ("payout", 2000),
        ]  # fmt: skip
        assert con.execute("from intake.question").fetchall() == []


def test_words_for_yes_and_units_can_be_taught_too(tiny_shop: Path) -> None:
    shop = load(taught(tiny_shop, '[words.yes_no]\njawoll = "yes"\n[words.unit]\nschippe = "500 g"\n'))
    field = RECORDS["hours"].field("rework")
    assert KINDS["yes_no"].read(pl.Series("text", ["jawoll"]), About(field, shop))["value"].to_list() == [True]
    assert Units(shop.words["unit"]).find("schippe") is not None
    assert list(not_understood(shop)) == []


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ('[words.knid]\n"x" = "refund"\n', 10, "[words.knid]: no field has such words"),
        ('[words.kind]\n\n"x" = "refnud"\n', 12, "“x” can't mean “refnud”"),
        ("[words]\n[words.'colour']\nx = 'red'\n", 11, "[words.colour]"),
    ],
)
def test_what_is_taught_in_vain_is_told_with_its_line(tiny_shop: Path, text: str, line: int, says: str) -> None:
    shop = load(taught(tiny_shop, text))
    ((where, told),) = not_understood(shop)
    assert (where, says in told) == (line, True), told
