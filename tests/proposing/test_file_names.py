"""What the names of files and sheets say of the sales in them. Words of the trade: common practice, no source."""

from pathlib import Path

import pytest

from pipeline.proposing.file_names import called, channel_called
from pipeline.shop import load


@pytest.mark.parametrize(
    ("file", "sheet", "channel"),
    [
        ("markets 2026.csv", "", "market"),
        ("Weihnachtsmarkt.xlsx", "", "market"),
        ("ventes.xlsx", "Marché de Noël", "market"),
        ("verkoop.ods", "Havenmarkt juni", "market"),
        ("2026/web orders.csv", "", "online"),
        ("tienda-web.csv", "", "online"),
        ("encargos.csv", "", "commission"),
        ("web orders.xlsx", "Spring fair", "market"),  # the sheet is nearer
        ("market and web.csv", "", ""),
        ("marketing.csv", "", ""),
        ("sales.csv", "", ""),
        ("cobweb.csv", "", ""),
    ],
)
def test_the_channel_is_told_by_the_name_of_file_or_sheet(tiny_shop: Path, file: str, sheet: str, channel: str) -> None:
    assert channel_called(file, sheet, load(tiny_shop)) == channel


def test_a_channel_of_the_shop_comes_first(tiny_shop: Path) -> None:
    with (tiny_shop / "shop.toml").open("a", encoding="utf-8") as toml:
        toml.write('\n[[channels]]\nname = "Abbey yard market"\n')
    assert channel_called("abbey yard market.csv", "", load(tiny_shop)) == "Abbey yard market"


@pytest.mark.parametrize(
    ("record", "file"),
    [("sales", "Marktverkauf.csv"), ("usage", "Materialentnahme.csv"), ("moves", "Kommissionsware.csv")],
)
def test_a_compound_names_its_record(record: str, file: str) -> None:
    assert called(record, file, "") > 0


@pytest.mark.parametrize(("record", "file"), [("sales", "workshop.csv"), ("counts", "accounts.csv")])
def test_what_only_ends_alike_names_none(record: str, file: str) -> None:
    assert called(record, file, "") == 0
