"""A maker's own words in a label are shown as they are, whatever Markdown would make of them."""

import re

import pytest

from dashboard import widgets
from dashboard.verbatim import JOINER, verbatim

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
    from streamlit.testing.v1 import AppTest

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
        refreshing.said("here")

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
