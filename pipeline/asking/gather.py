"""The questions of all files as those of the shop: each asked once, ranked by the money that hangs on it."""

import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date
from typing import Any

import duckdb
import polars as pl

from pipeline.asking import poured, sizes
from pipeline.asking.of_rows import word_question
from pipeline.asking.question_at import QuestionAt
from pipeline.cleaning.worth import WORTH
from pipeline.linking import Linked
from pipeline.linking.spellings import SEEN_IN
from pipeline.mapping import EARLIEST_YEAR
from pipeline.proposing.question import FILE, LITTLE, MONEY, Choice, constant
from pipeline.shop import Shop
from pipeline.tables import in_polars, intake

HOLDS = (FILE, MONEY, LITTLE)

FILES_SHOWN, SUCH_SHOWN = 3, 8

OF_A_TABLE = ("record", "needed", "column", "which", "together", "each", "taxed", "year", "row-total")
"""Kinds of questions that say nothing without the name of their file."""
OF_ALL_COLUMNS = ("record", "needed")


def with_times(asked: Iterable[QuestionAt], shop: Shop) -> list[QuestionAt]:
    """The questions with what they can be as of today, which no file tells: of the year this one, and all back to one
    before the start; of the day of a count without one the start, and the end of each year since."""
    start, now = shop["start"], shop.now()
    years = range(now.year, max(EARLIEST_YEAR, min(now.year, start.year - 1)) - 1, -1)
    days = [start, *(date(year, 12, 31) for year in range(start.year, now.year) if date(year, 12, 31) > start)]
    return [_with_days(_with_years(each, years), days) for each in asked]


def _with_days(asked: QuestionAt, days: Iterable[date]) -> QuestionAt:
    question = asked.question
    if (question.kind, question.record, question.field) != ("needed", "counts", "date"):
        return asked
    choices = list(question.choices)
    at = next((n for n, choice in enumerate(choices) if "columns" not in choice.mapping), len(choices))
    choices[at:at] = [constant(question.record, question.field, day.isoformat()) for day in days]
    return replace(asked, question=replace(question, choices=tuple(choices)))


def _with_years(asked: QuestionAt, years: Iterable[int]) -> QuestionAt:
    if asked.question.kind != "year":
        return asked
    record = asked.question.record
    choices = tuple(
        Choice(str(year), f"year: dates without one are of {year}", mapping={"record": record, "year": year})
        for year in years
    )
    return replace(asked, question=replace(asked.question, choices=choices))


OF_ALL = frozenset({"work.unsized", "work.pour_could", "work.pour_resin"})
"""The models that tell what is asked of all files together."""


def of_all(con: duckdb.DuckDBPyConnection, shop: Shop) -> list[QuestionAt]:
    """What is asked of all files together: how much is in one of an item, which resin was poured. `con`: a database
    in which the models of `OF_ALL` are made."""
    return [*sizes.questions(con, shop), *poured.questions(con)]


def frames(asked: Iterable[QuestionAt], linked: Linked) -> dict[str, pl.DataFrame]:
    """`intake.question`, `intake.question_choice` and `intake.question_file`."""
    groups: dict[tuple[str, str], list[QuestionAt]] = {}
    for each in (*asked, *_items(linked)):
        groups.setdefault((each.question.kind, each.question.about), []).append(each)
    ranked = sorted(
        groups.values(), key=lambda group: (-_cents(group), HOLDS.index(_holds(group)), -_rows(group), _id(group))
    )
    questions, choices, files = [], [], []
    for position, (group, first_cents) in enumerate(zip(ranked, _told_first(ranked), strict=True), 1):
        name, first = _id(group), group[0].question
        holds = _holds(group)
        places = {(each.file, each.sheet) for each in group}
        wants = sizes.KIND if first.kind == sizes.KIND else ""
        told = (name, position, first.kind, _ask(group), holds, wants)
        questions.append((*told, len(places), _rows(group), _cents(group)))
        for place, choice in enumerate(_choices(group), 1):
            choices.append((name, place, choice.label, choice.does, _writes(choice, group)))
        files += [(name, *place, *sums) for place, sums in _by_place(group, first_cents)]
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


def _holds(group: list[QuestionAt]) -> str:
    return next(h for h in HOLDS if any(each.question.holds == h for each in group))


def _rows(group: list[QuestionAt]) -> int:
    return sum(each.rows for each in group)


def _by_place(
    group: list[QuestionAt], first_cents: list[int]
) -> Iterator[tuple[tuple[str, str, str, str], tuple[int, ...]]]:
    """Each table and field that a question comes up in, with its rows, their cents, and those told of first by it."""
    places: dict[tuple[str, str, str, str], list[tuple[int, int, int]]] = {}
    for each, first in zip(group, first_cents, strict=True):
        place = (each.file, each.sheet, each.question.record, each.question.field)
        places.setdefault(place, []).append((each.rows, each.cents, first))
    for place, several in sorted(places.items()):
        yield place, tuple(map(sum, zip(*several, strict=True)))


def _told_first(ranked: list[list[QuestionAt]]) -> Iterator[list[int]]:
    """For each question and table the cents of those rows that no question before it is about: together they are the
    money that hangs on any."""
    told: dict[tuple[str, str], int] = {}
    rows: dict[tuple[str, str], pl.DataFrame] = {}
    whole = set()
    for group in ranked:
        firsts = []
        for each in group:
            table = (each.file, each.sheet)
            if each.rows and each.places.is_empty():
                whole.add(table)
                firsts.append(max(0, each.cents - told.get(table, 0)))
            else:
                before = rows.get(table, each.places.clear())
                new = each.places.join(before, on=["row", "occurrence"], how="anti")
                rows[table] = pl.concat([before, new])
                firsts.append(0 if table in whole else int(new["cents"].sum()))
            told[table] = told.get(table, 0) + firsts[-1]
        yield firsts


def _ask(group: list[QuestionAt]) -> str:
    """The question in words that need no page beside them."""
    question = group[0].question
    begins = "Its columns are" if question.kind in OF_ALL_COLUMNS else "It holds"
    such = f" {begins} {', '.join(question.such[:SUCH_SHOWN])}." if question.such else ""
    named = list(dict.fromkeys(" ".join(filter(None, (each.file, each.sheet))) for each in group))
    more = f" and {len(named) - FILES_SHOWN} more" if len(named) > FILES_SHOWN else ""
    if question.kind not in OF_A_TABLE:
        stands = next((f"{each.file} {each.sheet}".strip() + f", {each.stands}" for each in group if each.stands), "")
        others = f" (and in {len(named) - 1} more {'file' if len(named) == 2 else 'files'})" if len(named) > 1 else ""
        return f"{question.ask}{such}{f' It stands in {stands}{others}.' if stands else ''}"
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
    last = [choice.label for choice in group[0].question.choices[-1:] if len(group) > 1]
    return [choice for label, choice in found.items() if label not in last] + [found[label] for label in last]


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
    if words.is_empty():
        return
    named = _named(linked)
    for word, near in words.select("word", "nearest").iter_rows():
        question = word_question("item", word, (near,), LITTLE)
        ask = f"Is “{word}” a slip for {near}?"
        labels = (f"yes, {near}", f"no, {word} is another thing")
        choices = tuple(replace(c, label=label) for c, label in zip(question.choices, labels, strict=True))
        question = replace(question, ask=ask, choices=choices)
        for (file, sheet), places in named.filter(word=word).group_by("file", "sheet", maintain_order=True):
            rows, cents = places.height, int(places["cents"].sum())
            yield QuestionAt(question, str(file), str(sheet), "", rows, cents, places=places.select(WORTH.keys()))


def _named(linked: Linked) -> pl.DataFrame:
    """Where each name of an item stands: word, file, sheet, row, occurrence, and the cents that it was bought for."""
    seen = [
        linked.records[record].select(
            "row_id",
            word=pl.col(field),
            cents=pl.col("amount_cents").abs().fill_null(0) if record == "purchases" else pl.lit(0, pl.Int64),
        )
        for record, field in SEEN_IN
    ]
    places = linked.row.select("row_id", "file", "sheet", "row", "occurrence")
    # a pour may name it twice
    found = pl.concat(seen).drop_nulls("word").unique(maintain_order=True)
    return found.join(places, on="row_id", how="inner").sort("file", "sheet", "row", "occurrence")
