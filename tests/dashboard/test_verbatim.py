"""A maker's own words in a label are shown as they are, whatever Markdown would make of them."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from dashboard import widgets
from dashboard.app import VIEWS
from dashboard.verbatim import JOINER, verbatim
from pipeline.pages import actions
from tests.dashboard.conftest import Run
from tests.refreshed import refreshed

HOSTILE = (
    "$x^2$ and $$y$$", ":red[paid]", ":blue-background[x]", "finish:green", ":small[x]", ":smile: :+1: :100:",
    ":material/delete: :streamlit:", "**bold** _it_ ~~gone~~ `code`", "[a](http://evil.example)",
    "![a](http://evil.example/x.png)", "<img src=x onerror=alert(1)>", "https://evil.example www.evil.example",
    "ada@example.com", "a -> b <- c <-> d -- e >= f <= g ~= h", "# head", "- item", "+ item", "1. item", "2) item",
    "a\n\n---\n\nb", "    code", "| a | b |\n|---|---|", "&lt;b&gt; &copy;", "back\\slash", "[^1] [x]: y", "> said",
    "a\nb\n===", "a\0b",
)  # fmt: skip


def unescaped(text: str) -> str:
    """What stands there once the backslashes are read."""
    return re.sub(r"\\(.)", r"\1", text)


@pytest.mark.parametrize("text", HOSTILE)
def test_every_letter_is_there_and_no_sign_is_left_to_be_read(text: str) -> None:
    said = verbatim(text)
    assert unescaped(said).replace(JOINER, "") == " ".join(text.replace("\0", "\ufffd").split())
    assert not re.search(r"(?<!\\)(?:\\\\)*[`*_\[\]$<>#~|!&{}]", said.replace("\\\\", ""))
    seen = unescaped(said)
    # as Streamlit looks for them in the finished text
    for found in (
        r":material[_/]\w+:", r":streamlit:", r":[\w+-]+:", r":[a-zA-Z][\w-]*", r"https?://", r"www\.", r"\w@\w",
        r"(^|\s)(<->|->|<-|--|>=|<=|~=)(\s|$)", r"\n", r"^\s", r"^\d+[.)]",
    ):  # fmt: skip
        assert not re.search(found, seen), found


def test_plain_words_are_left_alone() -> None:
    for text in ("Walnut tray, 12 of 40", "inbox/pieces 2024.csv, row 48", "Größe: 30 × 20 cm", "16.5 % (8 pieces)"):
        assert verbatim(text) == text


def test_the_labels_of_folds_choices_and_alerts_go_through_it(monkeypatch: pytest.MonkeyPatch) -> None:
    def script() -> None:
        from dashboard import links, refreshing, widgets

        text = "**a** $b$ :red[c]"
        widgets.folded(text, "fold")
        widgets.choose(text, "one", ["x", "y"])
        widgets.switch(text, "two", ["x", "y"])
        widgets.hold(text, "product", ["x", "y"])
        links.ask(text, {"x": ("?open", "row:5")}, "asked")
        refreshing.fault(text, text)
        refreshing.done("here", text)
        refreshing.say_what_was_done("here")

    test = AppTest.from_function(script, default_timeout=60).run()
    assert not test.exception
    labels = [box.label for box in (*test.expander, *test.selectbox, *test.get("button_group"))]
    labels += [box.value for box in (*test.error, *test.success, *test.toast)]
    assert len(labels) >= 8
    for label in labels:
        assert set(label.split("  \n")) == {verbatim("**a** $b$ :red[c]")}
    assert widgets.folded


def test_a_time_of_day_stays_as_it_is() -> None:
    """No emoji has a name of two digits; `:100:` is one."""
    assert verbatim("Logged at 13:31: sanding") == "Logged at 13:31: sanding"
    assert verbatim("13:100: sanding") != "13:100: sanding"


NAME = "[a](http://evil.example) ![b](http://evil.example/b.png) $x$ <b>c</b> :material/delete: :red[d] **e**"


ODD = "odd $x$ :material[b] **c**"


@pytest.fixture
def hostile(tiny_shop: Path) -> Path:
    """A shop in which every kind of name is one that Markdown would make something of."""
    x, tag = NAME, "T-1 $x$"
    files = {
        "pieces": f"piece,product,species,finish,started,finished,note\n{tag},{x},{x},{x},2026-02-01,2026-03-01,{x}\n"
        f"T-2 **b**,{x},{x},{x},2026-02-01,2026-03-01,{x}\n",
        "hours": f"date,hours,person,operation,pieces,note\n2026-02-02,2:00,Ada,{x},{tag},{x}\n",
        "purchases": "date,supplier,item,category,quantity,unit,amount,lot,note\n"
        f"2026-02-01,{x},{x},wood,9,bf,90,W-1 $x$,{x}\n",
        "sales": f"date,channel,event,piece,product,price,note\n2026-03-05,{x},{x},{tag},{x},100,{x}\n",
        "inspections": f"date,piece,defect,action,cause,note\n2026-02-20,{tag},{x},rework,{x},{x}\n",
        ODD: f"Wen,{x}\n2026-03-07,sixty\n",
    }
    for file, rows in files.items():
        (tiny_shop / "inbox" / f"{file}.csv").write_text(rows, encoding="utf-8")
    refreshed(tiny_shop)
    return tiny_shop


def labels(test: AppTest) -> Iterator[str]:
    """All texts of a page that Markdown is read in."""
    for element in test.main:
        yield from _labels(element.proto)
    for node in _nodes(test._tree):
        yield from _labels(getattr(node, "proto", None))


def _nodes(node: Any) -> Iterator[Any]:
    yield node
    for child in getattr(node, "children", {}).values():
        yield from _nodes(child)


def _labels(proto: Any) -> Iterator[str]:
    if proto is None or type(proto).__name__ == "Html":
        return
    for part in (proto, getattr(proto, "expandable", None), getattr(proto, "popover", None)):
        for name in ("label", "help", "body", "text"):
            said = getattr(part, name, None)
            if isinstance(said, str):
                yield said


def test_no_name_is_read_as_markdown_on_any_page(page: Run, hostile: Path) -> None:
    found = {view.path: [*labels(page(view.path, hostile))] for view in VIEWS}
    cells = {
        "date": "2026-03-01",
        "hours": "1:00",
        "person": "Ada",
        "operation": NAME,
        "pieces": "T-1 $x$",
        "note": NAME,
    }
    actions.log_entry(hostile, "hours", cells)
    found["log"] += labels(page("log", hostile, kind="Work"))
    files = page("files", hostile, **{"by-file": "true"})
    files.session_state["settle"] = f"inbox/{ODD}.csv"
    found["files"] += labels(files.run())
    for path, said in found.items():
        for label in said:
            assert not re.search(r"\]\(|!\[|\$|<b>|:material|:red|\*\*", re.sub(r"\\.", "", label)), (path, label)
    held = {path: [label for label in said if "evil" in label or "x\\$" in label] for path, said in found.items()}
    assert held["log"]
    assert held["files"]
