"""One word for one thing in all that a maker reads: the labels and sentences of pages, reports and commands."""

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.house.sources import ROOT

SAID = {
    "labour": "work",
    "overhead": "rent and power",
    "spoilage": "usual scrap",
    "absorbed": "idle",
    "confidence": "likely",
    "percentile": "what so many stay below",
    "quantile": "what so many stay below",
    "variance": "how they scatter",
    "standard deviation": "how they scatter",
    "coefficient": "a plain word",
    "posterior": "likely",
    "accrual": "what is owed",
    "amortisation": "what it loses in worth",
}
"""The word that no label has → the one it has instead. They are listed in DEVELOPERS.md."""

BESIDE = {"depreciation": re.compile(r"\(depreciation\)")}
"""Words of an accountant that stand only in brackets behind a plain one."""

OF_THINGS = re.compile(
    r"\b(wood|resin|cups?|shelf|lots?|slabs?|offcuts?|material|grams?|units?|days|pieces?) left\b(?! in )"
    r"|\bleft (in (?!a month|the other month)|(on|out|behind|there|otherwise)\b)|\b(that|that is|none|days|or) left\b"
    r"|\b(what|nothing|volume) (that )?is left\b(?! (for|over|after|of (a|that|the price|revenue)))",
    re.I,
)
"""“Left” is said of money alone: wood is still there, a cup has a rest, what counts for nothing is not counted."""

NAMES = {"not absorbed", "labour cost", "own labour", "cost of sales", "normal scrap", "overhead in pieces"}
"""Names of the database, by which rows are looked up: they are no text on a page."""

TOLD = ("dashboard", "pipeline/reports", "pipeline/commands")
SQL = re.compile(r"\bselect\b.*\b(from|case)\b", re.S)


def texts(source: str) -> Iterator[tuple[int, str]]:
    """The texts of a module that may be read on a page: labels and sentences, no docstring, name or statement."""
    tree = ast.parse(source)
    mute = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if not isinstance(node, ast.Constant) or not isinstance(node.value, str) or id(node) in mute:
            continue
        text = node.value
        said = (re.search(r"\s", text.strip()) or text[:1].isupper()) and text not in NAMES
        if said and not SQL.search(text):
            yield node.lineno, text


def faults(source: str) -> list[str]:
    """The words that should be others, with their lines."""
    found = []
    for line, text in texts(source):
        found += [
            f"{line}: “{word}” in “{text}”: say {other}"
            for word, other in SAID.items()
            if re.search(rf"\b{word}\b", text, re.I)
        ]
        if other := OF_THINGS.search(text):
            found.append(f"{line}: “{other.group()}” in “{text}”: left is said of money alone")
        for word, beside in BESIDE.items():
            if re.search(rf"\b{word}\b", beside.sub("", text), re.I):
                found.append(f"{line}: “{word}” in “{text}” without a plain word beside it")
    return found


def modules() -> list[Path]:
    every = [path for part in TOLD for path in sorted((ROOT / part).rglob("*.py"))]
    return [path for path in every if path.parent.name != "read"]  # that room holds statements alone


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(ROOT)))
def test_a_label_says_one_word_for_one_thing(path: Path) -> None:
    assert faults(path.read_text(encoding="utf-8")) == []


def test_the_meanings_of_columns_say_the_same_words() -> None:
    told = tomllib.loads((ROOT / "sql" / "columns.toml").read_text(encoding="utf-8"))
    wrong = [
        f"{name}: {text}"
        for part in told.values()
        for name, text in part.items()
        for word in ("labour", "overhead", "spoilage")
        if re.search(rf"\b{word}\b", text, re.I)
    ]
    wrong += [f"{name}: {text}" for part in told.values() for name, text in part.items() if OF_THINGS.search(text)]
    assert wrong == []


def sql_texts(statement: str) -> list[str]:
    """The texts of a model that a page or a report shows: more than a name, joined where a line breaks them."""
    bare = re.sub(r"'\s*\|\|\s*'", "", re.sub(r"--.*", "", statement))
    return [text for text in re.findall(r"'((?:[^']|'')*)'", bare) if " " in text.strip() and text not in NAMES]


def test_the_sentences_of_models_and_checks_say_the_same_words() -> None:
    wrong = []
    for path in sorted((ROOT / "sql").rglob("*.sql")):
        statement = path.read_text(encoding="utf-8")
        told = sql_texts(statement)
        if path.parent.name == "checks":  # what a check means is told
            told.append(" ".join(re.findall(r"^-- ([^@].*)$", statement, re.M)))
        wrong += [f"{path.name}: {text}" for text in told if faults(f"say({text!r})")]
    assert wrong == []
    assert sql_texts("select 'took more ' -- 'a b'\n || 'labour' as reason, 'name'") == ["took more labour"]


def test_what_is_looked_through_is_what_a_maker_reads() -> None:
    assert faults('"""Overhead of a month."""\nlabel = "Overhead"') == [
        "2: “overhead” in “Overhead”: say rent and power"
    ]
    assert len(faults('say(f"{n} of labour cost")')) == 1
    assert len(faults('say("Depreciation, rent")')) == 1
    assert faults('say("What it loses in worth (depreciation)")') == []
    assert len(faults('say("Left in cups"); say("Count what is left."); say("2 lots left")')) == 3
    assert faults('say("What was sold left 20 over its cost"); say("Left for an hour")') == []
    assert (
        faults('row["labour"]; line == "not absorbed"; con.sql("select layer from t where layer = \'labour\'")') == []
    )


def test_the_words_are_listed_for_developers() -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("### One word for one thing")[2]
    for word in (
        "labour",
        "overhead",
        "spoilage",
        "absorbed",
        "confidence",
        "percentile",
        "quantile",
        "variance",
        "still there",
        "rest in the cup",
    ):
        assert word in guide.partition("\n## ")[0]
