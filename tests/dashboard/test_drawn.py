"""Pictures that are drawn once, and their files."""

import polars as pl
import pytest

from dashboard.charts import cached as pictures
from dashboard.charts.cached import sent_chart
from dashboard.charts.files import set_aside
from dashboard.charts.theme import DAY, NIGHT
from dashboard.charts.waterfall import steps


def frame(amount: float = 3.0) -> pl.DataFrame:
    return pl.DataFrame({"step": ["in", "left"], "amount": [amount, amount], "total": [False, True]})


def test_the_same_parts_are_drawn_once() -> None:
    assert sent_chart(steps, frame(), "3 left", "g", DAY) is sent_chart(steps, frame(), "3 left", "g", DAY)


@pytest.mark.parametrize(
    "other",
    [
        lambda: sent_chart(steps, frame(4.0), "3 left", "g", DAY),
        lambda: sent_chart(steps, frame(), "4 left", "g", DAY),
        lambda: sent_chart(steps, frame(), "3 left", "kg", DAY),
        lambda: sent_chart(steps, frame(), "3 left", "g", NIGHT),
        lambda: sent_chart(steps, frame(), "3 left", "g", DAY, digits=2),
    ],
    ids=["figures", "title", "unit", "night", "digits"],
)
def test_whatever_differs_is_drawn_anew(other) -> None:
    assert other().spec != sent_chart(steps, frame(), "3 left", "g", DAY).spec


def test_two_charts_of_the_same_parts_are_two_pictures() -> None:
    rows = pl.DataFrame({"kind": ["No unit"], "step": ["in"], "amount": [1.0], "total": [False]})
    assert sent_chart(set_aside, rows, "1 row", DAY).spec != sent_chart(steps, rows, "1 row", "rows", DAY).spec


def test_only_so_many_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pictures, "KEPT", 2)
    first = sent_chart(steps, frame(11), "t", "g", DAY)
    for amount in (12, 13):
        sent_chart(steps, frame(amount), "t", "g", DAY)
    assert len(pictures._DRAWN) == 2
    assert sent_chart(steps, frame(11), "t", "g", DAY) is not first


def test_the_title_is_text_on_the_page_and_stands_in_the_file() -> None:
    picture = sent_chart(steps, frame(), "3 g are left of it", "g", DAY)
    assert picture.title == "3 g are left of it"
    assert "title" not in picture.bare
    assert "3 g are left of it" in pictures.svg(picture).decode()


def test_a_picture_as_png_is_one() -> None:
    # PNG, third edition (W3C 2025): the signature of a file, and the width in the header
    file = pictures.png(sent_chart(steps, frame(), "3 left", "g", DAY))
    assert file.startswith(b"\x89PNG\r\n\x1a\n")
    assert int.from_bytes(file[16:20], "big") > 1200
