"""What Pricing quotes is what its fields show, whichever product was chosen before."""

from itertools import pairwise
from pathlib import Path

import pytest

from pipeline.pages import actions
from tests.browser import hand
from tests.browser.conftest import phone
from tests.browser.hand import opened, settled
from tests.whole import WHOLE

pytestmark = pytest.mark.browser


def shown(screen) -> tuple[str, str]:
    """The fields' number and the answer, once the answer is of what is chosen."""
    settled(screen)
    return screen.get_by_label("How many", exact=True).input_value(), screen.locator("h1.kl-answer").inner_text()


def take(screen, product: str) -> None:
    hand.take(screen, screen.get_by_role("combobox", name="Product", exact=True), product)
    settled(screen)


def walk(names: list[str], others: int) -> list[str]:
    """A way on which each follows on so many of the others once; on all of them, each pair is gone both ways."""
    around = names * 2
    left = {name: around[n + 1 : n + 1 + others] for n, name in enumerate(names)}
    way, done = [names[0]], []
    while way:
        if left[way[-1]]:
            way.append(left[way[-1]].pop())
        else:
            done.append(way.pop())
    return done[::-1]


@pytest.mark.parametrize("screen", [1280], ids=["wide"], indirect=True)
def test_a_quote_is_of_what_the_fields_show_whichever_product_was_before(screen, demo: Path) -> None:
    products = actions.quote_choices(demo)["product"]
    fresh = {}
    for product in products:
        opened(screen, f"/pricing?quote-product={product.replace(' ', '+')}")
        fresh[product] = shown(screen)
        number = int(fresh[product][0])
        found = actions.quote(demo, {"product": product, "quantity": number})
        cents = next(p["asked_cents"] for p in found["prices"] if p["channel"] == found["channel"])
        said = f"${cents / 100:,.2f} each" if number > 1 else f"Ask ${cents / 100:,.2f} for"
        assert said in fresh[product][1]
    assert len({number for number, _ in fresh.values()}) > 1
    others = len(products) - 1 if WHOLE else 2
    way = walk(products, others)
    assert len(set(pairwise(way))) == len(way) - 1 == len(products) * others
    opened(screen, f"/pricing?quote-product={way[0].replace(' ', '+')}")
    for before, product in pairwise(way):
        take(screen, product)
        heading = screen.locator("h1.kl-answer", has_text=fresh[product][1])
        heading.wait_for()
        assert shown(screen) == fresh[product], f"{product} after {before}"


@pytest.mark.parametrize("screen", [1280], ids=["wide"], indirect=True)
def test_a_number_that_was_typed_stays_when_another_product_is_chosen(screen, demo: Path) -> None:
    first, *others = actions.quote_choices(demo)["product"]
    opened(screen, f"/pricing?quote-product={first.replace(' ', '+')}")
    screen.get_by_label("How many", exact=True).fill("4")
    screen.keyboard.press("Tab")
    for product in others[:3]:
        take(screen, product)
        screen.locator("h1.kl-answer", has_text="of 4").wait_for()
        assert shown(screen)[0] == "4"


LINKED = "/pricing?quote-product=tray&relist=true&market=true"


@phone
@pytest.mark.parametrize(("field", "typed"), [("How many", "3"), ("Length", "20 in"), ("Width", "12 foo")])
def test_a_link_leads_to_its_piece_though_a_field_is_half_typed(screen, field: str, typed: str) -> None:
    """What is half typed is sent as the field is left: its answer must not lead back."""
    opened(screen, LINKED)
    link = screen.locator("table.kl a[href^=pieces]").first
    tag = link.inner_text()
    screen.get_by_label(field, exact=True).focus()
    screen.keyboard.press("ControlOrMeta+a")
    screen.keyboard.insert_text(typed)
    link.click()
    screen.locator("h1.kl-answer", has_text=tag).wait_for()
    settled(screen)
    screen.wait_for_timeout(500)
    assert screen.url.partition("/pieces?")[2] == f"piece={tag}"
    screen.go_back()
    screen.locator("h1.kl-answer", has_text="for a tray" if field != "Width" else "can't be priced").wait_for()
