"""The questions of all files as those of the shop: each asked once, ranked by the money that hangs on it."""

import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any

import polars as pl

from pipeline.asking.of_rows import word_question
from pipeline.asking.question_at import QuestionAt
from pipeline.linking import Linked
from pipeline.linking.spellings import SEEN_IN
from pipeline.proposing.questions import FILE, LITTLE, MONEY, Choice
from pipeline.tables import in_polars, intake

HOLDS = (FILE, MONEY, LITTLE)

FILES_SHOWN, SUCH_SHOWN = 3, 8

OF_A_TABLE = ("record", "needed", "column", "which", "each", "taxed", "year", "row-total")
"""Kinds of questions that say nothing without the name of their file."""
OF_ALL_COLUMNS = ("record", "needed")


def frames(asked: Iterable[QuestionAt], linked: Linked) -> dict[str, pl.DataFrame]:
    """`intake.question`, `intake.question_choice` and `intake.question_file`."""
    groups: dict[tuple[str, str], list[QuestionAt]] = {}
    for each in (*asked, *_items(linked)):
        groups.setdefault((each.question.kind, each.question.about), []).append(each)
    ranked = sorted(groups.values(), key=lambda group: (-_cents(group), -_rows(group), _id(group)))
    questions, choices, files = [], [], []
    for position, group in enumerate(ranked, 1):
        name, first = _id(group), group[0].question
        holds = next(h for h in HOLDS if any(each.question.holds == h for each in group))
        places = {(each.file, each.sheet) for each in group}
        questions.append((name, position, first.kind, _ask(group), holds, len(places), _rows(group), _cents(group)))
        for place, choice in enumerate(_choices(group), 1):
            choices.append((name, place, choice.label, choice.does, _writes(choice, group)))
        files += [
            (name, file, sheet, record, field, sum(rows), sum(cents))
            for (file, sheet, record, field), rows, cents in _by_place(group)
        ]
    return {
        f"intake.{table}": pl.DataFrame(rows, schema=in_polars(intake(table)), orient="row")
        for table, rows in (("question", questions), ("question_choice", choices), ("question_file", files))
    }


def _id(group: list[QuestionAt]) -> str:
    """A name that a question keeps from refresh to refresh."""
    question = group[0].question
    return hashlib.sha256(f"{question.kind}\x1f{question.about}".encode()).hexdigest()[:10]


def _cents(group: list[QuestionAt]) -> int:
    return sum(each.cents for each in group)


def _rows(group: list[QuestionAt]) -> int:
    return sum(each.rows for each in group)


def _by_place(group: list[QuestionAt]) -> Iterator[tuple[tuple[str, str, str, str], list[int], list[int]]]:
    places: dict[tuple[str, str, str, str], list[QuestionAt]] = {}
    for each in group:
        places.setdefault((each.file, each.sheet, each.question.record, each.question.field), []).append(each)
    for place, several in sorted(places.items()):
        yield place, [each.rows for each in several], [each.cents for each in several]


def _ask(group: list[QuestionAt]) -> str:
    """The question in words that need no page beside them."""
    question = group[0].question
    begins = "Its columns are" if question.kind in OF_ALL_COLUMNS else "It holds"
    such = f" {begins} {', '.join(question.such[:SUCH_SHOWN])}." if question.such else ""
    if question.kind not in OF_A_TABLE:
        return f"{question.ask}{such}"
    named = list(dict.fromkeys(" ".join(filter(None, (each.file, each.sheet))) for each in group))
    more = f" and {len(named) - FILES_SHOWN} more" if len(named) > FILES_SHOWN else ""
    what = " What is each of its rows?" if question.kind == "record" else ""
    which = " What is it?" if question.kind == "needed" else ""
    which = " Which one?" if question.kind == "which" else which
    return f"{', '.join(named[:FILES_SHOWN])}{more}: {question.ask}{what}{which}{such}"


def _choices(group: list[QuestionAt]) -> list[Choice]:
    """What can be answered: the choices of all tables that ask, in the order of the first."""
    found: dict[str, Choice] = {}
    for each in group:
        for choice in each.question.choices:
            found.setdefault(choice.label, choice)
    last = group[0].question.choices[-1].label if len(group) > 1 else ""
    return [choice for label, choice in found.items() if label != last] + [found[last] for _ in range(bool(last))]


def _writes(choice: Choice, group: list[QuestionAt]) -> str:
    """What a choice writes, as JSON: entries of `shop.toml`, and of the mapping of each table that asks."""
    shop: list[tuple[str, str, str]] = []
    mappings: list[dict[str, Any]] = []
    for each in group:
        own = next((c for c in each.question.choices if c.label == choice.label), None)
        if own is None:
            continue
        shop += [entry for entry in own.shop if entry not in shop]
        if own.mapping:
            place = {"file": each.file, "sheet": each.sheet, "mapping": each.mapping, "headings": each.headings}
            mappings.append(place | {"says": own.mapping})
    return json.dumps({"shop": shop, "mappings": mappings}, ensure_ascii=False)


def _items(linked: Linked) -> Iterator[QuestionAt]:
    """Names of items that look like slips of the pen: told only from all files together."""
    words = linked.unknown_word.filter(pl.col("vocabulary") == "item", pl.col("nearest").is_not_null())
    for word, near, rows, file in words.select("word", "nearest", "rows", "file").iter_rows():
        question = word_question("item", word, (near,), LITTLE)
        ask = f"Is “{word}” a slip for {near}?"
        labels = (f"yes, {near}", f"no, {word} is another thing")
        choices = tuple(replace(c, label=label) for c, label in zip(question.choices, labels, strict=True))
        yield QuestionAt(replace(question, ask=ask, choices=choices), file or "", "", "", rows, _cost(linked, word))


def _cost(linked: Linked, item: str) -> int:
    bought = linked.records["purchases"].filter(pl.col("item") == item) if ("purchases", "item") in SEEN_IN else None
    return int(bought["amount_cents"].abs().sum() or 0) if bought is not None else 0
