"""What stands in a column is read by the shop's own words too, which are gathered once a column."""

from pathlib import Path

import polars as pl
import pytest

from pipeline.cleaning import several_facts, synonyms
from pipeline.proposing import contents
from pipeline.records import RECORDS
from pipeline.shop import Shop, load


@pytest.fixture
def shop(tiny_shop: Path) -> Shop:
    with (tiny_shop / "shop.toml").open("a", encoding="utf-8") as file:
        file.write(
            '\n[[channels]]\nname = "fair"\n[words.unit]\nzuber = "5 kg"\n[words.operation]\nzibbeln = "sanding"\n'
        )
    return load(tiny_shop)


@pytest.mark.parametrize(
    ("record", "name", "texts", "share"),
    [
        ("purchases", "unit", ["zuber", "kg", "vroom", "vreem"], 0.5),
        ("hours", "operation", ["zibbeln", "sanding", "sanding T-1, T-2", "vroom"], 0.75),
        ("hours", "person", ["Ada", "vroom"], 0.5),
        ("sales", "channel", ["fair", "vroom"], 0.5),
        ("inspections", "action", ["rework", "vroom"], 0.5),
    ],
)
def test_how_much_of_a_column_is_known(shop: Shop, record: str, name: str, texts: list[str], share: float) -> None:
    field = RECORDS[record].field(name)
    known = contents.fit if field.kind == "unit" else contents.known_share
    assert known(pl.Series(texts), field, shop) == share


@pytest.mark.parametrize(("record", "name"), [("hours", "operation"), ("hours", "person"), ("purchases", "category")])
def test_a_vocabulary_is_gathered_once_a_column(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, record: str, name: str
) -> None:
    made = []

    class Counted(synonyms.Words):
        def __init__(self, vocabulary: str, shop: Shop) -> None:
            made.append(vocabulary)
            super().__init__(vocabulary, shop)

    for module in (contents, several_facts):
        monkeypatch.setattr(module, "Words", Counted)
    contents.known_share(pl.Series([f"vroom {at}" for at in range(50)]), RECORDS[record].field(name), shop)
    assert made == [RECORDS[record].field(name).vocabulary]
