"""Names of items that look like slips of the pen, told from all files at once.

A maker's own items need no list: what was bought or counted is known. What is worth a question is a name that nobody
ever bought, and one written once or twice that is all but the same as one written often.
"""

import difflib
import re

import polars as pl

from pipeline import reference
from pipeline.linking import Linked
from pipeline.reference import key
from pipeline.shop import Shop

SEEN_IN = (("purchases", "item"), ("counts", "item"), ("usage", "item"), ("pours", "resin"), ("pours", "colourant"))
KNOWN_BY = ("purchases", "counts")

RARE, OFTEN = 2, 3
"""A name on so few rows may be a slip, if the one that it is like is on this many times as many."""
ALIKE, LIKE = 0.85, 0.7
"""How alike (0 to 1) a bought name, and one that nobody bought, must be to the one suggested. Set by hand."""

MOST_ASKED = 200


def unknown_items(linked: Linked, shop: Shop) -> pl.DataFrame:
    """`intake.unknown_word` with its items judged over all files: vocabulary, word, nearest, rows, file."""
    others = linked.unknown_word.filter(pl.col("vocabulary") != "item")
    words = _words(linked)
    rows = dict(words.select("word", "rows").iter_rows())
    named = {str(name).casefold() for name in shop.names("item")}
    known = named | set(words.filter(pl.col("bought"))["word"])
    asked = []
    for word, count, file in words.select("word", "rows", "file").iter_rows():
        own = word in known
        if word.casefold() in named or (own and count > RARE):
            continue
        often = [w for w in known if w != word and rows.get(w, 0) >= OFTEN * count] if own else list(known - {word})
        near = nearest(word, often, ALIKE if own else LIKE)
        if near or not own:
            asked.append(("item", word, near or None, count, file))
        if len(asked) == MOST_ASKED:
            break
    return pl.concat([others, pl.DataFrame(asked, schema=others.schema, orient="row")])


def _words(linked: Linked) -> pl.DataFrame:
    """Each name of an item: word, rows, bought (or counted), and the first file that has it; rarest first."""
    places = linked.row.select("row_id", "file")
    seen = [
        linked.records[record].select("row_id", pl.col(field).alias("word"), pl.lit(record in KNOWN_BY).alias("bought"))
        for record, field in SEEN_IN
    ]
    return (
        pl.concat(seen)
        .drop_nulls("word")
        .join(places, on="row_id", how="left")
        .group_by("word")
        .agg(pl.len().cast(pl.Int64).alias("rows"), pl.col("bought").any(), pl.col("file").min())
        .sort("rows", "word")
    )


def nearest(word: str, names: list[str], cutoff: float) -> str:
    """The name most like `word` whose figures and woods are the same: discs of 120 and 180, planks of Eiche and of
    Esche are two things; "" if none is."""
    apart = _apart(word)
    fitting = sorted(name for name in names if _apart(name) == apart)
    return next(iter(difflib.get_close_matches(word, fitting, 1, cutoff)), "")


def _apart(name: str) -> tuple[list[str], list[str]]:
    """The figures and the woods in a name."""
    woods = reference.names("species")
    return re.findall(r"\d+", name), [token for token in re.findall(r"[^\W\d_]+", key(name)) if token in woods]
