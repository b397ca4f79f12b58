"""The paper behind a row: found by the number of its receipt, and nothing else of the shop is handed out."""

from pathlib import Path

import pytest

from pipeline.errors import UserError
from pipeline.pages import papers
from pipeline.shop import Shop, load


@pytest.fixture
def shop(tiny_shop: Path) -> Shop:
    for name in (
        *("2026-03-05 R-881.pdf", "paid/r 881 Riverbend.JPG", "R-8810.pdf", "XR-881.png", "R-881.csv"),
        *("bill 2026-0815.pdf", "INV-4200012345.pdf"),
        *("riverbend 1001.pdf", "nord 1001.jpg", "2026-10-01.pdf"),
    ):
        path = tiny_shop / "inbox" / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(name.encode())
    return load(tiny_shop)


@pytest.mark.parametrize(
    ("row", "found"),
    [
        (("R-881", None, None), ["inbox/2026-03-05 R-881.pdf", "inbox/paid/r 881 Riverbend.JPG"]),
        (("R-881", "Riverbend Boards", None), ["inbox/paid/r 881 Riverbend.JPG"]),
        (("1001", "Nord", None), ["inbox/nord 1001.jpg"]),
        (("1001", "Ost", None), ["inbox/nord 1001.jpg", "inbox/riverbend 1001.pdf"]),
        (("10", None, None), []),
        (("2026-0815", None, None), ["inbox/bill 2026-0815.pdf"]),
        (("INV-4200012345", None, None), ["inbox/INV-4200012345.pdf"]),
        (("2026", None, None), []),
        ((None, "Riverbend", None), []),
        ((None, None, "inbox/R-8810.pdf"), ["inbox/R-8810.pdf"]),
        ((None, None, "inbox/R-881.csv"), []),
    ],
)
def test_a_paper_is_found_by_the_number_of_the_receipt(shop: Shop, row: tuple, found: list[str]) -> None:
    assert papers.papers(shop, [row]) == found


def test_a_paper_is_handed_out_and_nothing_else(shop: Shop) -> None:
    assert papers.paper(shop, "inbox/nord 1001.jpg") == b"nord 1001.jpg"
    (shop.path("inbox") / "out.pdf").symlink_to("/etc/hostname")
    for name in (
        "shop.toml",
        "inbox/R-881.csv",
        "inbox/../shop.toml",
        "/etc/passwd",
        "inbox/none.pdf",
        "inbox/out.pdf",
    ):
        with pytest.raises(UserError, match="not in the inbox"):
            papers.paper(shop, name)
