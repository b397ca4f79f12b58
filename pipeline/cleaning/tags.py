"""Tags of pieces, lots, pours, receipts and orders, and lists and runs of them: T-031; T-040..T-042."""

import re
from collections.abc import Iterable

import polars as pl

from pipeline.cleaning.parsed import About, UnreadableError, each
from pipeline.records import RECORDS, Record

LONGEST_RUN = 500
LONGEST_TAG = 64
_DASHES = str.maketrans({"‐": "-", "‑": "-", "−": "-"})
_TAG = re.compile(r"(.*?)(\d+)([^\d]*)")
_LOOKS = re.compile(r"[A-Z]+[-_.]?\d+[A-Z]?")
_RUN = re.compile(r"(.*?\S)(?:\s*(?:\.{2,}|…|–|—|→)\s*|\s+(?:-|TO|BIS|THRU)\s+)(\S.*)")
_BEHIND_A_TAG = r"(?:(?<=\d)|(?<=\d[A-Z])|(?<=\d\s)|(?<=\d[A-Z]\s))"
"""Where a stroke parts two tags; that of SM/042 stands within one."""
_PLAIN = r"^[A-Za-z0-9][A-Za-z0-9_-]{0,63}$"
_FULL = r"[A-Za-z]{1,20}[-_]?\d{1,20}"
_STRICT = {f.name for record in RECORDS.values() for f in record if f.kind == "tag" and (f.makes or f.leads)}
"""Fields of one tag that is on record: two tags in their cell are two, and no text with a comma."""


def tidy_tag(text: str) -> str:
    """A tag as it is stored: upper case, without spaces, with plain hyphens."""
    return re.sub(r"\s+", "", text.translate(_DASHES)).upper()


def alike(tag: str, known: Iterable[str]) -> list[str]:
    """The known tags that another spelling of a tag may mean: 0396, p0396 and P 396 for P-0396."""
    letters, number = spelled(tag)
    each = [(name, *spelled(name)) for name in known]
    same = [name for name, *parts in each if parts == [letters, number]]
    return sorted(same or [name for name, _, digits in each if number and not letters and digits == number])


def spelled(tag: str) -> tuple[str, str]:
    """Letters and digits without the marks between, and the number at the end without its zeros."""
    bare = re.fullmatch(r"(.*?)(\d*)", re.sub(r"[\W_]", "", tag.casefold()))
    return (bare[1], bare[2].lstrip("0")) if bare else ("", "")


def tags(texts: pl.Series, about: About) -> pl.DataFrame:
    name = about.field.name

    def read(text: str) -> str:
        tag = tidy_tag(text)
        parts = text.upper().split()
        listed = name != "event" and re.search(r"[;&]|\.\.", tag)
        if listed or (name in _STRICT and ("," in tag or (len(parts) > 1 and all(map(_LOOKS.fullmatch, parts))))):
            raise UnreadableError("tag", "This field takes one tag: write a row for each.")
        return _checked(tag)

    return each(texts, read, {"value": pl.String})


def numbered(record: Record, cells: pl.DataFrame, values: dict[str, pl.Series]) -> dict[str, pl.Series]:
    """Of a table without a column of tags that its rows could have: one for each row, of its day, its piece, and its
    number among those alike, so that the same row in another file is the same. {} for a record that needs none."""
    field = next((f for f in record if f.numbered and f.name not in cells.columns), None)
    if field is None or "on_date" not in values:
        return {}
    piece = values.get("piece", pl.Series("piece", [None] * cells.height, dtype=pl.String))
    base = pl.concat_str(pl.col("day").cast(pl.String), "piece", separator="-", ignore_nulls=True)
    made = pl.DataFrame({"day": values["on_date"], "piece": piece}).select(base.alias("tag"))
    number = pl.int_range(1, pl.len() + 1).over("tag")
    told = made.select(pl.when(number == 1).then("tag").otherwise(pl.format("{}-{}", "tag", number)).alias(field.name))
    return {field.name: told[field.name]}


def easy_tag(about: About) -> tuple[str, pl.Expr]:
    return _PLAIN, pl.col("text").str.to_uppercase()


def tag_lists(texts: pl.Series, about: About) -> pl.DataFrame:
    return each(texts, tag_list, {"value": pl.List(pl.String)})


def easy_list(about: About) -> tuple[str, pl.Expr]:
    """One tag, or full tags with any usual mark between them; runs and short forms are read one by one."""
    parted = pl.col("text").str.to_uppercase().str.replace_all(r"\s*[;,/+&]\s*", ";").str.split(";")
    alone = pl.col("text").str.contains(r"[;,/+&]").not_()
    several = pl.when(alone).then(parted).otherwise(parted.list.unique(maintain_order=True))
    return rf"^(?:[A-Za-z0-9][A-Za-z0-9_-]{{0,63}}|{_FULL}(?:\s*[;,/+&]\s*{_FULL}){{1,50}})$", several


def tag_list(text: str) -> list[str]:
    """The tags of one cell, each once, in order."""
    found: list[str] = []
    for part in _split(text.translate(_DASHES).upper()):
        found.extend(_run(part, found))
        if len(found) > LONGEST_RUN:
            raise UnreadableError("tag", f"More than {LONGEST_RUN} tags in one cell.")
    if not found:
        raise UnreadableError("tag")
    return list(dict.fromkeys(found))


def _split(text: str) -> list[str]:
    parts = re.split(rf"[;,+&\n]|{_BEHIND_A_TAG}/|\s(?:AND|UND|ET|Y)\s", text)
    split: list[str] = []
    for part in (p.strip() for p in parts):
        words = part.split()
        if len(words) > 1 and all(map(_LOOKS.fullmatch, words)):
            split.extend(words)
        elif part:
            split.append(part)
    return split


def _run(part: str, before: list[str]) -> list[str]:
    match = _RUN.fullmatch(part)
    if match is None:
        return [_checked(_like(tidy_tag(part), before))]
    return _between(_like(tidy_tag(match[1]), before), tidy_tag(match[2]))


def _like(tag: str, before: list[str]) -> str:
    """`T-031, 032` means T-031 and T-032: a bare number of the same width takes the tag before it as its pattern."""
    if not tag.isdigit() or not before or before[-1].isdigit():
        return tag
    last = _TAG.fullmatch(before[-1])
    if last is None or len(last[2]) != len(tag):
        raise UnreadableError("tag", "Write every tag in full.")
    return last[1] + tag + last[3]


def _between(first: str, last: str) -> list[str]:
    start, end = _TAG.fullmatch(first), _TAG.fullmatch(last)
    if start is None or end is None or start[3] or end[3] or end[1] not in ("", start[1]):
        raise UnreadableError("tag", "A run goes from one number to a later one: T-031..T-034.")
    digits = end[2] if end[1] or len(end[2]) >= len(start[2]) else start[2][: -len(end[2])] + end[2]
    low, high = int(start[2]), int(digits)
    if high < low or high - low >= LONGEST_RUN:
        raise UnreadableError("tag", f"A run goes upwards and holds at most {LONGEST_RUN} tags.")
    return [_checked(f"{start[1]}{number:0{len(start[2])}d}") for number in range(low, high + 1)]


def _checked(tag: str) -> str:
    if not tag or len(tag) > LONGEST_TAG or not any(c.isalnum() for c in tag):
        raise UnreadableError("tag")
    return tag
