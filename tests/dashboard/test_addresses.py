"""What somebody types into an address, or a page elsewhere puts there, is a name that is looked up: no statement."""

import ast
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

import dashboard
from dashboard import address_keys, data, details, links, widgets, words
from dashboard.app import VIEWS
from dashboard.sections import quote_form
from dashboard.setting_words import SECTIONS, TAUGHT
from dashboard.view_context import Page
from dashboard.words import Money
from tests.dashboard.conftest import Run, heading, html

WRITES = "x') = '' or 1 = 1); copy (select 1) to '{there}'; select * from read_text('/etc/hostname') where ('' = '"

HOSTILE = {
    "a quote": "'", "two quotes": '"', "a semicolon": "tray;", "a tilde": "~", "an escaped tilde": "%7E",
    "a null": "\0", "10,000 characters": "x" * 10_000, "many digits": "9" * 400, "a digit of another kind": "²",
    "nothing": "", "a percent sign": "%", "half a code": "%f", "markup": "<img src=x onerror=alert(1)>",
    "a far day": "9999-12-31", "a day of week": "2026-W01-1", "a name of ours": "piece", "a negative": "-1",
}  # fmt: skip

GOOD = {
    "row": ["5"], "rows": ["5", "6"], "lot": ["5"], "flow": ["tray"], "layer": ["T-1", "labour"],
    "line": ["2026-05-01", "revenue", "", "the result"],
    "months": ["2026-05-01", "2026-04-01", "revenue", "labour", "sold"], "cash": ["2026-05-01", "customers"],
    "event": ["MARKET"], "sold": ["product", "tray", "2026-05-01", "2026-05-31"],
    "resin": ["all resins", "bought", "2026-05-01", "2026-05-31", "bought"], "pours": ["all", "all", "all"],
    "wood": ["species", "walnut"], "judged": ["product", "tray"], "between": ["2026-05-01", "2026-05-31"],
    "found": ["fisheye", "finishing", "dust"], "hours": ["2026-05-05"], "unplaced": ["cleaning"],
    "made": ["tray", "all"], "waited": ["tray", "5"], "predicted": ["product", "tray"],
    "held": ["2026-05-01", "materials"], "file": ["inbox/a.csv", ""], "word": ["species", "x"],
    "tag": ["hours", "pieces", "T-1"], "aside": ["inbox/a.csv", "", "5", "1"],
}  # fmt: skip
"""The parts of an address of each kind, as our own links have them."""

TITLES = {"line": 3, "months": 4, "resin": 4}
"""Which part is only what the thing is called."""

WORDS = ("²", "2026-W01-1", "piece", "-1")


@pytest.fixture
def opened(demo: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], str]:
    """What an address opens in the demo shop: the sentences that stand there."""
    monkeypatch.setenv(data.SHOP_VARIABLE, str(demo))
    page = Page(data.open_book(demo), Money("USD"), words.units("metric"))
    said: list[str] = []
    monkeypatch.setattr(widgets, "say", lambda sentence, quiet=False: said.append(sentence))

    def run(wanted: str) -> str:
        said.clear()
        assert details._title(page, wanted) == "What stands behind it"
        details._body(page, wanted)
        return "\n".join(said)

    return run


def test_an_example_is_here_of_every_kind() -> None:
    assert set(GOOD) == set(details.KINDS)


@pytest.mark.parametrize("kind", GOOD)
def test_every_part_of_every_kind_is_looked_up(opened: Callable[[str], str], kind: str, tmp_path: Path) -> None:
    there = tmp_path / "written"
    hostile = [*HOSTILE.values(), WRITES.format(there=there), "not stated', 1); copy t to '" + str(there)]
    for place in range(len(GOOD[kind])):
        for text in hostile:
            told = [*GOOD[kind][:place], text, *GOOD[kind][place + 1 :]]
            said = opened(links.target(kind, *told))
            # a list that names nothing means all, a day may be any, and a title is but words
            may_be = text in ("", "9999-12-31") or (place == TITLES.get(kind) and text in WORDS)
            assert details.GONE in said or may_be, (kind, place, text[:60])
            if "'" in text:
                opened(f"{kind}:{'~'.join(told)}")  # as it stands, its tildes and all
    assert not there.exists()


@pytest.mark.parametrize("kind", GOOD)
def test_too_many_parts_or_too_few_open_nothing(opened: Callable[[str], str], kind: str) -> None:
    for wanted in (kind, f"{kind}:", f"{kind}:{'~' * 10}", f"{kind}:{'~a' * 5000}", f"{kind}'", f"{kind};:a"):
        assert details.GONE in opened(wanted), wanted[:60]


@pytest.mark.parametrize(
    "wanted", ["layer:a~b", "sold:factor~x", "wood:yield_share~x", "cash:2026-05-01~x", "word:x~y"]
)
def test_a_name_that_is_in_no_table_of_names_opens_nothing(opened: Callable[[str], str], wanted: str) -> None:
    assert details.GONE in opened(wanted)


def _whole(path: str) -> None:
    from dashboard import data, widgets
    from dashboard.app import VIEWS, draw

    draw(next(view for view in VIEWS if view.path == path), widgets.page_of(data.open_book(data.shop_folder())))


def bound(test: AppTest) -> set[str]:
    """The parts of the address that the widgets of a page read."""
    found = set(links.HELD) | set(links.KEPT)

    def look(block) -> None:
        for child in block.children.values():
            proto = getattr(child, "proto", None)
            for part in (proto, *(getattr(proto, name, None) for name in ("expandable", "popover"))):
                if key := getattr(part, "query_param_key", ""):
                    found.add(key)
            if hasattr(child, "children"):
                look(child)

    look(test._tree)
    return found


TYPED = {"length", "width", "thickness", "diameter", "hardware", "pay"}
"""Keys of Pricing that take whatever is typed: of what is no size or amount there is no price, and it says so."""

INSTEAD = "Nothing is shown for this address."


@pytest.mark.parametrize("path", [view.path for view in VIEWS])
def test_whatever_a_page_reads_of_its_address_is_looked_up_and_nothing_stands_in_its_place(
    page: Run, demo: Path, path: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    usual = page(path, demo)
    names = bound(usual) - TYPED - ({"piece"} if path != "pieces" else set())
    assert [name for name in names if not address_keys.is_read(name)] == []
    names |= {"colour"}  # which no page reads
    assert len(names) > len(links.HELD)
    monkeypatch.setenv(data.SHOP_VARIABLE, str(demo))
    test = AppTest.from_function(_whole, args=(path,), default_timeout=60)
    for name in names:
        test.query_params[name] = "'; copy t to '/nowhere/written'; --~%7E\0" + "x" * 10_000
    test.run()
    said_of: list[str] = []
    while INSTEAD in (said := html(test)):
        assert not test.exception, (said_of, test.exception[0].value)
        assert said.count("<h1") == 1
        # neither a figure, nor a picture, nor a choice of anything else
        assert not any(other in said for other in ("<dl", "<table", "kl-do", "kl-title")), said
        assert not [*test.selectbox, *test.get("arrow_vega_lite_chart")]
        before = set(test.query_params)
        test.button(key="without").click().run()
        said_of += before - set(test.query_params)
    assert sorted(said_of) == sorted(names)
    assert heading(test) == heading(usual)  # without all that is wrong it is the page as ever
    test.query_params[links.OPEN] = "x"
    assert details.GONE in html(test.run())


KEYED = {"folded": 1, "choose": 1, "choose_among": 1, "switch": 1, "_text": 1, "_number": 1, "small_ones": 3}
"""Functions of widgets that stand in the address → which of their arguments is their name there."""


def keys_in(source: str) -> Iterator[str]:
    """The names in the address that a module's widgets have, as far as they stand in it."""
    tree = ast.parse(source)
    named = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign):
            parts = [part.elts if isinstance(part, ast.Tuple) else [part] for part in (node.targets[0], node.value)]
            named |= {ast.unparse(target): value for target, value in zip(*parts, strict=False)}
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        told = {word.arg: word.value for word in node.keywords}
        place = KEYED.get(ast.unparse(node.func).rpartition(".")[2])
        args = [node.args[place]] if place and len(node.args) > place else []
        args += node.args[2:3] if place and ast.unparse(node.func).endswith("folded") else []
        args += [told["key"]] if "bind" in told else []
        for arg in args:
            key = named.get(ast.unparse(arg), arg)
            if isinstance(key, ast.Constant):
                yield f"each-{key.value!s}" if place == KEYED["small_ones"] else str(key.value)
            elif isinstance(key, ast.JoinedStr) and isinstance(key.values[0], ast.Constant):
                yield f"{key.values[0].value!s}"


def test_every_part_of_an_address_that_a_page_reads_is_known_and_no_other() -> None:
    found = {key for path in Path(dashboard.__file__).parent.rglob("*.py") for key in keys_in(path.read_text("utf-8"))}
    listed = set(address_keys.KEYS)
    assert {key for key in found if not address_keys.is_read(key) and key != "quote-"} == set()
    # a size of a quote, and what a lead or another module names, is no literal where its widget is
    said = {*found, *links.HELD, *links.KEPT, links.OPEN, *quote_form.SIZES, *(s.key for s in SECTIONS), TAUGHT}
    said |= {f"quote-{name}" for name in ("species", "finish", "channel")}
    assert listed - said == set()


@pytest.mark.parametrize("path", [view.path for view in VIEWS])
def test_an_address_that_names_nothing_by_a_key_shows_what_is_usual(page: Run, demo: Path, path: str) -> None:
    usual = page(path, demo)
    assert heading(page(path, demo, **dict.fromkeys(bound(usual), ""))) == heading(usual)


def test_a_choice_that_another_one_takes_away_is_no_wrong_address(page: Run, demo: Path) -> None:
    months = data.open_book(demo).months()
    refunds = months["refund_cents"] != 0
    with_, without = (months.filter(some)["month"][-1] for some in (refunds, ~refunds))
    test = page("month", demo, month=f"{with_:%Y-%m}", step="Refunds")
    assert test.selectbox(key="step").value == "Refunds"
    test.selectbox(key="month").set_value(f"{without:%Y-%m}").run()
    assert not test.exception
    assert INSTEAD not in html(test)
    assert test.selectbox(key="step").value != "Refunds"
