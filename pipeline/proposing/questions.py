"""What is open about a proposed mapping: the questions that the maker is asked before it is used."""

import re
from collections.abc import Iterable, Sequence

from pipeline.proposing.columns import Column, ColumnGuess
from pipeline.records import RECORDS
from pipeline.reference import header_key, words_for

Pair = tuple[float, Column, str, str]
"""How well a column is a field, the column, the field ("" = none), and why."""

SURE = 0.75
"""A needed column below this is asked about; how the figures were set: by the header styles of the tests."""
FAIR = 0.6
MARGIN = 0.1
CLOSE = 0.08

_INCLUSIVE = re.compile(rf"\b({'|'.join(words_for('phrases', 'tax included'))})\b")


def open_questions(
    best: str,
    scores: dict[str, float],
    rivals: list[str],
    found: Sequence[Column],
    guesses: list[ColumnGuess],
    pairs: Iterable[Pair],
) -> Iterable[str]:
    """What is open about a table's proposal, in words; nothing where it may be used as it stands."""
    record = RECORDS[best]
    by_field = {g.field: g for g in guesses if g.field}
    for field in record:
        if field.required and field.name not in by_field:
            yield f"No column is the {field.name} that {best} need."
    if rivals and scores[best] - scores[rivals[1]] < MARGIN:
        yield f"It could be {best} or {rivals[1]}."
    for guess in by_field.values():
        need = SURE if record.field(guess.field).required else FAIR
        if guess.confidence < need:
            yield f"Is “{guess.header or guess.column}” the {guess.field}?"
    yield from _contested(guesses, pairs)
    unknown = [g for g in guesses if g.why == "not known" and g.samples]
    if unknown:  # a column left out without a word would be a loss nobody sees
        yield f"What is {', '.join(f'“{g.header or g.column}”' for g in unknown[:5])}?"
    yield from _for_one_or_all(best, by_field, found)
    prices = [g for g in by_field.values() if g.field in ("price", "amount") and _INCLUSIVE.search(g.header.casefold())]
    if prices:
        yield f"“{prices[0].header}” has the tax in it: say tax_included, or name the column without it."


_MAYBE_EACH = {"purchases": "amount", "sales": "price"}


def _for_one_or_all(best: str, by_field: dict[str, ColumnGuess], found: Sequence[Column]) -> Iterable[str]:
    """With several of a thing in a row, a "price" of a receipt or an "amount" of a sale may be for one or for all."""
    field = _MAYBE_EACH.get(best, "")
    money, count = by_field.get(field), by_field.get("quantity")
    if money is None or count is None or header_key(money.header) not in words_for("phrases", f"each or all: {field}"):
        return
    texts = next(c.texts for c in found if c.name == count.column)
    if not texts.str.contains(r"^1(?:\D|$)").all():
        yield f"Is “{money.header}” for each, or for the whole row?"


def _contested(guesses: list[ColumnGuess], pairs: Iterable[Pair]) -> Iterable[str]:
    """Fields that another column fits as well as the one chosen, unless that column found a better place."""
    chosen = {g.column: g for g in guesses}
    for score, column, field, _ in pairs:
        own = chosen[column.name]
        holder = next((g for g in guesses if g.field == field and field), None)
        if not field or holder is None or holder.column == column.name:
            continue
        if (
            score >= holder.confidence - CLOSE
            and own.confidence < score + CLOSE
            and not own.field
            and own.why != "not needed"
        ):
            yield f"“{holder.header}” and “{column.header}” could both be the {field}."
