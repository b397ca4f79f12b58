"""From a mark or a row to what stands behind it, and what a page can be taken home as."""

import json
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.database import open_newest
from tests.browser.conftest import laid, serving
from tests.browser.hand import (
    answers,
    at_rest,
    by_keys,
    click_goes,
    click_mark,
    goes,
    heading,
    opened,
    settled,
    take,
    take_by_keys,
    until,
)  # fmt: skip
from tests.browser.test_walk import go

pytestmark = pytest.mark.browser


# what a phone shows in the same way is walked once
wide = pytest.mark.parametrize("screen", [1280], ids=["wide"], indirect=True)
phone = pytest.mark.parametrize("screen", [360], ids=["phone"], indirect=True)


def marks(screen, key: str, role: str):
    return screen.locator(f".st-key-{key} [aria-roledescription={role}]")


@wide
def test_a_click_on_a_month_chooses_it_on_every_page(screen) -> None:
    opened(screen, "/?course=true")
    # the course shows twelve months up to the chosen one: the first of them
    bar = marks(screen, "course-result", "bar").first
    click_goes(bar, re.compile(r"month=\d{4}-\d{2}"))
    settled(screen)
    month = re.search(r"month=(\d{4}-\d{2})", screen.url)[1]
    screen.locator("h1.kl-answer").wait_for()
    go(screen, "Stock")
    assert f"month={month}" in screen.url


@wide
def test_a_click_on_a_dot_opens_its_piece(screen) -> None:
    opened(screen, "/pieces?product=tray&others=true")
    before = heading(screen).partition(",")[0]
    # dots lie on each other: whichever is on top at this place
    click_goes(marks(screen, "spread", "circle").nth(3), re.compile("piece="))
    tag = re.search(r"piece=([^&]+)", screen.url)[1]
    assert tag != before
    screen.locator("h1.kl-answer", has_text=tag).wait_for()
    settled(screen)
    # another month chooses among its own pieces
    take(screen, screen.get_by_label("Month", exact=True), "2024-04")
    screen.wait_for_url(lambda url: "month=2024-04" in url and "piece=" not in url)
    settled(screen)
    assert not screen.locator("[data-testid=stException], .kl-fault").count()


def test_a_row_opens_its_piece_and_the_filters_hold(screen) -> None:
    opened(screen, "/rework?species=American elm&group-pieces=true")
    link = screen.locator("table.kl a[href^=pieces]").first
    tag = link.inner_text()
    # where the row stands at the click itself: pictures that are still being drawn above move it until then
    screen.evaluate("""addEventListener("click", ({target}) => {
        window.theSamePage = true;
        window.placeOfTheRow = target.getBoundingClientRect().top;
    }, {capture: true, once: true})""")
    link.click()
    screen.locator("h1.kl-answer", has_text=tag).wait_for()
    assert "species=American" in screen.url
    assert "American elm" in heading(screen)
    screen.go_back()
    screen.locator("h1.kl-answer", has_text="came back for rework").wait_for()
    screen.wait_for_function("""() => {
        const row = document.querySelector("table.kl a[href^=pieces]");
        return row && Math.abs(row.getBoundingClientRect().top - window.placeOfTheRow) < 2;
    }""")
    assert screen.evaluate("window.theSamePage")  # no page was loaded anew


@wide
def test_a_mark_of_the_forest_opens_its_pieces(screen) -> None:
    opened(screen, "/rework")
    point = screen.locator("[class*=st-key-forest] [aria-roledescription=point]").last
    level = re.search(r"group: ([^;]+)", point.get_attribute("aria-label"))[1]
    click_goes(point, re.compile("group="))
    settled(screen)
    assert level in screen.locator(f"[aria-label='pieces of species {level}']").inner_text()


@wide
def test_a_step_of_the_month_opens_its_records_and_the_small_ones_open_to_themselves(screen) -> None:
    opened(screen, "/month?month=2026-10")
    fold = screen.locator(".st-key-records details")
    assert fold.get_attribute("open") is None
    bars = screen.locator("[class*=st-key-steps] [aria-roledescription=bar]")
    selling = bars.and_(screen.locator("[aria-label*='step: Selling']"))
    click_mark(selling, screen.locator(".st-key-records details.kl-record").first)
    assert "step=Selling" in screen.url
    other = bars.and_(screen.locator("[aria-label*='step: Other, ']"))
    click_goes(other, re.compile("each-step=true"))
    settled(screen)
    bars.and_(screen.locator("[aria-label*='step: Resin']")).wait_for()
    assert not other.count()


@wide
def test_what_lost_money_leads_to_its_piece(screen) -> None:
    opened(screen, "/month?month=2026-10")
    screen.get_by_text(re.compile("^What made and what lost money")).click()
    screen.get_by_text("pieces", exact=True).click()
    link = screen.get_by_role("region", name="earned pieces month").get_by_role("link").first
    tag = link.inner_text()
    link.click()
    screen.locator("h1.kl-answer", has_text=tag).wait_for()


@wide
def test_a_bar_of_the_bridge_opens_its_records_and_opens_again(screen) -> None:
    opened(screen, "/month?month=2026-05&difference=true")
    assert not screen.get_by_role("dialog").count()  # the first page is found by its name too
    bar = screen.locator("[class*=st-key-bridge] [aria-roledescription=bar]").nth(1)
    dialog = screen.get_by_role("dialog")
    for _ in range(2):
        click_mark(bar, dialog.locator("details.kl-record").first)
        assert re.search(r"inbox/.*, row \d+", dialog.inner_text())
        assert "open=months" in screen.url
        screen.keyboard.press("Escape")
        dialog.wait_for(state="hidden")
        screen.wait_for_url(lambda url: "open=" not in url)
        settled(screen)


def test_what_a_mark_opens_is_reached_with_keys_alone(screen) -> None:
    opened(screen, "/materials?month=2026-05")
    box = screen.get_by_label("The records behind a step", exact=True)
    dialog = screen.get_by_role("dialog")
    until(dialog.locator("details.kl-record").first, lambda: by_keys(screen, box, "Rest in cups"))
    assert "rest in cups" in dialog.inner_text()
    assert "pour R-" in dialog.inner_text()


@wide
def test_a_row_of_a_folded_table_opens_and_the_fold_stays_open(screen, demo: Path) -> None:
    lot = open_newest(demo).execute(
        "select lot from material.wood_yield where lot is not null order by bought_on desc, lot_id limit 1"
    ).fetchall()[0][0]  # fmt: skip
    opened(screen, "/materials?material=wood")
    screen.get_by_text(re.compile("Lot by lot: .* wooden lots")).click()
    screen.get_by_role("region", name="wood lots").get_by_role("link", name=lot, exact=True).click()
    dialog = screen.get_by_role("dialog")
    record = dialog.locator("details.kl-record", has_text="inbox/").first
    record.locator("summary").click()
    assert "purchases" in dialog.inner_text()
    screen.keyboard.press("Escape")
    dialog.wait_for(state="hidden")
    screen.get_by_role("region", name="wood lots").wait_for()


@wide
def test_a_row_of_a_long_grid_opens_its_piece(screen) -> None:
    opened(screen, "/pieces?others=true&rest-pieces=true")
    grid = screen.locator("[data-testid=stDataFrame]").first
    grid.locator("canvas").first.wait_for()
    grid.wait_for()
    box = at_rest(grid).bounding_box()
    # a heading sorts, and opens nothing
    screen.mouse.click(box["x"] + 55, box["y"] + 15)
    screen.wait_for_timeout(300)
    assert "piece=" not in screen.url
    # the box of the fifth row, below the heading
    goes(screen, lambda: screen.mouse.click(box["x"] + 18, box["y"] + 5.5 * 35), re.compile("piece="))
    tag = re.search(r"[?&]piece=([^&]+)", screen.url)[1]
    screen.locator("h1.kl-answer", has_text=tag).wait_for()


def test_a_row_set_aside_is_mended_where_it_is_opened(screen) -> None:
    opened(screen, "/files")
    screen.get_by_role("region", name="set aside").get_by_role("link").first.click()
    dialog = screen.get_by_role("dialog")
    dialog.get_by_role("button", name="Put the mended row in its place").wait_for()


COPIED = """async () => {
    const [held] = await navigator.clipboard.read();
    return [...new Uint8Array(await (await held.getType("image/png")).arrayBuffer())];
}"""


@wide
def test_pictures_and_tables_are_taken_home(screen, tmp_path: Path) -> None:
    opened(screen, "/stock")
    for label, name, start in (
        ("As SVG", "tied-up.svg", b"<svg"),
        ("As PNG", "tied-up.png", b"\x89PNG"),
        ("As CSV", "tied-up.csv", b"end of,stage,"),
        ("Download as CSV", "to-buy.csv", b"flow,category"),
    ):
        with screen.expect_download() as started:
            screen.get_by_role("button", name=label, exact=True).first.click()
        assert started.value.suggested_filename == name
        started.value.save_as(tmp_path / name)
        assert (tmp_path / name).read_bytes().startswith(start)
    screen.context.grant_permissions(["clipboard-read", "clipboard-write"])
    screen.get_by_role("button", name="Copy", exact=True).first.click()
    screen.get_by_role("button", name="Copied", exact=True).wait_for()
    assert screen.evaluate(COPIED)[:4] == [0x89, *b"PNG"]
    screen.context.clear_permissions()


@pytest.fixture(scope="module")
def own_shop(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, str]]:
    """A copy of the demo shop that may be written to, and where it is served: by a server that served no other shop,
    whose refresh could still run."""
    folder = laid(demo, tmp_path_factory.mktemp("own") / "shop")
    with serving(folder) as address:
        yield folder, address


def test_a_piece_is_quoted_and_the_quote_is_saved(screen, own_shop: tuple[Path, str]) -> None:
    shop, address = own_shop
    before = set((shop / "quotes").glob("*.json"))
    opened(screen, f"{address}/pricing?by-channel=true")
    product = screen.get_by_label("Product", exact=True)
    take_by_keys(screen, product, "tray")
    answers(screen, "for a tray (")
    # a row that is opened takes nothing away of what is described, however late the server hears of each of them, and
    # though newer figures wait to be shown
    newest = max((shop / "database").glob("shop-*.duckdb"))
    shutil.copyfile(newest, newest.with_name(f"shop-{int(newest.stem[5:]) + 1:06}.duckdb"))
    newer = screen.get_by_role("button", name="Show the newer figures")
    for at in range(300):
        if newer.is_visible():
            break
        screen.mouse.move(at % 9, 5)  # as long as somebody does something, they wait
        screen.wait_for_timeout(100)
    # the server hears of the first field at once, and of all after it six seconds later
    screen.evaluate("""() => {
        const { send } = WebSocket.prototype;
        const held = [];
        let heard = false;
        WebSocket.prototype.send = function (data) {
            if (!new TextDecoder().decode(data).includes("20 in")) return send.call(this, data);
            if (heard) return held.push(() => send.call(this, data));
            heard = true;
            setTimeout(() => {
                WebSocket.prototype.send = send;
                held.forEach(each => each());
            }, 6500);
            return send.call(this, data);
        };
    }""")
    screen.get_by_label("Length", exact=True).fill("20 in")
    screen.get_by_label("How many", exact=True).fill("2")
    screen.get_by_role("region", name="price by channel").get_by_role("link").first.click()
    screen.get_by_role("dialog").locator("details.kl-record").first.wait_for()
    screen.keyboard.press("Escape")
    screen.get_by_role("dialog").wait_for(state="hidden")
    answers(screen, "for a tray in a run of 2 (")
    screen.get_by_role("button", name="Save this quote").click()
    screen.get_by_text(re.compile("Saved as Q-")).wait_for()
    made = set((shop / "quotes").glob("*.json")) - before
    assert len(made) == 1
    saved = json.loads(made.pop().read_text(encoding="utf-8"))
    assert (saved["product"], saved["answer"]["asked"]["length"]) == ("tray", "20 in")
    price = f"{saved['quoted_price_cents'] / 100:,.2f}"
    assert price in heading(screen)
    with screen.expect_download() as started:
        screen.get_by_role("button", name="The client's page").click()
    page = Path(started.value.path()).read_text(encoding="utf-8")
    assert price in page
    assert f"{saved['predicted_50_cents'] / 100:,.2f}" not in page


@wide
def test_the_worst_defect_stands_in_a_tile_that_opens_its_fold(screen, demo: Path) -> None:
    defect = open_newest(demo).execute("select defect from quality.defect order by cents desc limit 1").fetchall()[0][0]
    opened(screen, "/rework")
    tile = screen.locator("dl.kl-figures").get_by_role("link", name=defect, exact=True)
    tile.click()
    screen.locator(".kl-title", has_text="costs most").wait_for()
    fold = screen.locator(".st-key-defects").first
    # at the top, below what stays there
    screen.wait_for_function(
        """fold => {
            const above = parseFloat(getComputedStyle(document.querySelector("[data-testid=stMain]")).scrollPaddingTop);
            return Math.abs(fold.getBoundingClientRect().top - above) < 40;
        }""",
        arg=fold.element_handle(),
    )
    assert "defects=true" in screen.url


@wide
@pytest.mark.parametrize(
    ("page", "key", "role"),
    [
        ("materials", "resin-way", "bar"),
        ("materials?need-groups=true", "over-mixed", "bar"),
        ("materials?material=wood", "yields-species", "circle"),
        ("materials?material=wood&shown=money", "wood-costs-species", "bar"),
        ("rework?more-rework=true", "savings", "point"),
        ("pricing?quote-product=tray", "quote-parts", "bar"),
        ("pricing?quote-product=tray&market=true", "waiting-tray", "circle"),
        ("log", "log-days", "bar"),
    ],
)
def test_a_mark_opens_what_stands_behind_it(screen, page: str, key: str, role: str) -> None:
    click_opens(screen, page, key, role)


@phone
@pytest.mark.parametrize(
    ("page", "key", "role"), [("materials", "resin-way", "bar"), ("rework?more-rework=true", "savings", "point")]
)
def test_a_mark_opens_on_a_phone_too(screen, page: str, key: str, role: str) -> None:
    click_opens(screen, page, key, role)


@wide
def test_a_page_that_is_not_there_is_said_so_and_another_is_a_click_away(screen) -> None:
    opened(screen, "/nowhere")
    answers(screen, "Page: there is no “nowhere” here.")
    assert screen.get_by_role("dialog").count() == 0  # Streamlit's own, over the page that it shows instead
    screen.get_by_role("link", name="Stock", exact=True).click()
    answers(screen, "at the end of")


@wide
def test_the_bar_of_the_small_ones_opens_to_all_of_them(screen) -> None:
    opened(screen, "/materials")
    bars = marks(screen, "resin-way", "bar")
    other = bars.and_(screen.locator("[aria-label*='Other, ']"))
    click_goes(other, re.compile("each-resin-way=true"))
    settled(screen)
    bars.and_(screen.locator("[aria-label*='Spilled']")).wait_for()
    # and back by keys alone
    screen.get_by_role("switch", name=re.compile("small bars each by itself")).or_(
        screen.get_by_role("checkbox", name=re.compile("small bars each by itself"))
    ).focus()
    screen.keyboard.press("Space")
    other.wait_for()
    assert "each-resin-way" not in screen.url


def click_opens(screen, page: str, key: str, role: str) -> None:
    opened(screen, f"/{page}")
    mark = marks(screen, key, role)
    mark.first.wait_for()
    dialog = screen.get_by_role("dialog")
    click_mark(mark.nth(1), dialog.locator("details.kl-record, table.kl").first)
    assert "open=" in screen.url


@wide
def test_a_bar_of_the_faults_leaves_only_its_rows(screen) -> None:
    opened(screen, "/files?why-aside=true")
    bar = marks(screen, "set-aside", "bar").first
    kind = re.search(r"reason: ([^;]+)", bar.get_attribute("aria-label"))[1]
    click_goes(bar, re.compile("fault="))
    settled(screen)
    rows = screen.get_by_role("region", name="set aside").locator("tbody tr")
    assert all(kind in text for text in rows.all_inner_texts())
