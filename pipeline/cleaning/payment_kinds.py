"""What a payment was for where no cell says it: by the words of its note, else by the way the money went."""

import functools
import re

import polars as pl

from pipeline.reference import key, names

OUT, IN = "supplier", "payout"
"""What money that goes out, or comes in, is for where nothing else is known: a bill is paid, takings are paid in."""

_BY_NOTE = {"out": ("tax", "pay", "drawing", "loan", "refund"), "in": ("tax", "capital", "loan", "claim")}
"""Kinds that the words of a note say without a doubt; others are words of every bank's line."""
_SHORTEST = 4


def with_kinds(frame: pl.DataFrame) -> pl.DataFrame:
    """The payments, each without a kind given one. Amounts are as a bank writes them: a minus goes out."""
    way = pl.when(pl.col("amount_cents") < 0).then(pl.lit("out")).when(pl.col("amount_cents") > 0).then(pl.lit("in"))
    bare = frame.filter(pl.col("kind").is_null())["note"].drop_nulls().unique()
    note = pl.col("note").replace_strict({text: key(text) for text in bare}, default=None, return_dtype=pl.String)
    by_note = pl.coalesce(
        *(
            pl.when((way == side) & note.str.contains(pattern)).then(pl.lit(kind))
            for side, kinds in _patterns().items()
            for kind, pattern in kinds.items()
        )
    )
    by_way = way.replace_strict({"out": OUT, "in": IN}, default=None, return_dtype=pl.String)
    return frame.with_columns(pl.coalesce("kind", by_note, by_way).alias("kind"))


@functools.cache
def _patterns() -> dict[str, dict[str, str]]:
    """Way → kind → the words that say it."""
    words: dict[str, list[str]] = {}
    for word, meanings in names("kind").items():
        if len(meanings) == 1 and len(word) >= _SHORTEST:
            words.setdefault(next(iter(meanings)), []).append(re.escape(word))
    return {
        side: {kind: rf"\b(?:{'|'.join(words[kind])})\b" for kind in kinds if kind in words}
        for side, kinds in _BY_NOTE.items()
    }
