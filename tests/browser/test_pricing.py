"""What Pricing quotes is what its fields show, whichever product was chosen before."""

from itertools import pairwise
from pathlib import Path

import pytest

from pipeline.pages import actions
from tests.browser import hand
from tests.browser.hand import opened, settled

pytestmark = pytest.mark.browser


def shown(screen) -> tuple[str, str]:
    """The fields' number and the answer, once the answer is of what is chosen."""
    settled(screen)
    return screen.get_by_label("How many", exact=True).input_value(), screen.locator("h1.kl-answer").inner_text()


def take(screen, product: str) -> None:
    hand.take(screen, screen.get_by_role("combobox", name="Product", exact=True), product)
    settled(screen)


def walk(names: list[str]) -> list[str]:
    """A way on which each follows on each other once."""
    left = {name: [other for other in names if other != name] for name in names}
    way, done = [names[0]], []
    while way:
        if left[way[-1]]:
            way.append(left[way[-1]].pop())
        else:
            done.append(way.pop())
    return done[::-1]


@pytest.mark.parametrize("screen", [1280], ids=["wide"], indirect=True)
def test_a_quote_is_of_what_the_fields_show_after_each_pair_of_products(screen, demo: Path) -> None:
    products = actions.quote_choices(demo)["product"]
    fresh = {}
    for product in products:
        opened(screen, f"/pricing?quote-product={product.replace(' ', '+')}")
        fresh[product] = shown(screen)
        number = int(fresh[product][0])
        cents = actions.quote(demo, {"product": product, "quantity": number})["cost"]["at"]["50"]
        said = f"${cents / 100:,.2f} each" if number > 1 else f"${cents / 100:,.0f}"
        assert said in fresh[product][1]
    assert len({number for number, _ in fresh.values()}) > 1
    way = walk(products)
    assert len(way) == len(products) * (len(products) - 1) + 1
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
