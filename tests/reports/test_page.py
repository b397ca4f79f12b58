"""Pages of HTML: what a maker wrote is text on them, whatever it looks like, and a slip in a template is a fault."""

from pathlib import Path

import jinja2
import pytest

from pipeline.reports.page import page
from pipeline.reports.quote_sheet import sheet

HOSTILE = "<script>alert(1)</script>\"'&{{ 7 * 7 }}"
TEMPLATES = Path(__file__).parents[2] / "pipeline" / "reports" / "templates"


def test_a_name_that_nobody_gives_is_a_fault() -> None:
    with pytest.raises(jinja2.UndefinedError, match="shop"):
        page("quote_sheet.html", tag="Q-1")


def test_what_a_maker_wrote_is_text() -> None:
    quote = {
        "channel": HOSTILE, "shop": HOSTILE, "currency": HOSTILE, "minor_digits": 2, "on_date": "2026-05-01",
        "holds_days": 30, "deposit_ppm": 0, "terms": HOSTILE,
        "prices": [{"channel": HOSTILE, "asked_cents": 100, "tax_by": "", "tax_share": 0, "shipping_charged_cents": 0}],
        "asked": dict.fromkeys(("product", "species", "finish", "length", "width", "thickness"), HOSTILE)
        | {"diameter": "", "quantity": 1},
    }  # fmt: skip
    text = sheet(quote, tag=HOSTILE)
    assert "<script" not in text
    assert "alert(1)" in text
    assert "{{ 7 * 7 }}" in text  # it is never read as a template


def test_only_a_picture_of_ours_is_put_in_as_it_is() -> None:
    raw = {path.name: path.read_text(encoding="utf-8").count("safe") for path in TEMPLATES.glob("*.html")}
    assert raw == {"month.html": 1, "quote_sheet.html": 0}
