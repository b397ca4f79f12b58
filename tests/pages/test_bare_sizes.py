"""Sizes typed without a unit, told by the grammar that a refresh reads them with."""

from pathlib import Path

import pytest

from pipeline.pages import actions


@pytest.mark.parametrize(
    ("text", "bare"),
    [
        *((text, True) for text in ("300", "12.5", "12,5", "1 1/2", "1-1/2", "1½", "3/4", " 40 ", "+40")),
        *((text, False) for text in ("300 mm", '12"', "5 ft 3 in", "", "about as long as that", "3 x 20", "8/4 in")),
    ],
)
def test_a_size_of_which_only_the_unit_is_missing(tiny_shop: Path, text: str, bare: bool) -> None:
    cells = {"piece": "T-1", "length": text, "width": "20 cm", "list_price": "300"}
    assert actions.sizes_without_unit(tiny_shop, "pieces", cells) == (["length"] if bare else [])


def test_where_the_shop_says_the_unit_none_is_missing(tiny_shop: Path) -> None:
    settings = tiny_shop / "shop.toml"
    settings.write_text('sizes_in = "mm"\n' + settings.read_text(encoding="utf-8"), encoding="utf-8")
    assert actions.sizes_without_unit(tiny_shop, "pieces", {"length": "300"}) == []
