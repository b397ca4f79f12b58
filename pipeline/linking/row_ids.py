"""Row ids that follow from content: a hash of what a record or a setting says, so that no other row moves it.

An id is a hash of the record's name and its filled fields, and of its number among equals. Its upper bits leave out
the note, and only the lower ones take it in: rows that differ in their notes alone are neighbours wherever ids break a
tie, so no figure hangs on a note. An id is no order otherwise: what comes first is said by named fields.
"""

from collections.abc import Iterable, Mapping
from hashlib import md5

import polars as pl

BITS = 51
"""An id times 4096 (`draw_id` in `sql/macros.sql`) fits a BIGINT, and a browser's number holds it exactly."""

NOTE_BITS = 12

_SALTS, _STEP = 8, 1021
"""So many salts move the lower bits, each by so much, before the upper ones are hashed again too."""


def content_of(
    frame: pl.DataFrame, name: str, leave_out: Iterable[str] = (), usual: Mapping[str, object] | None = None
) -> pl.Series:
    """What rows say, as one text each: the name and every filled column. Empty ones are left out, and so are `usual`
    values, which stand where a cell was empty: so a new column moves no id."""
    parts = [
        pl.lit(f"\x1f{column}=") + _text(pl.col(column), kind, (usual or {}).get(column))
        for column, kind in frame.schema.items()
        if column not in {*leave_out}
    ]
    return frame.select(pl.concat_str(pl.lit(name), *parts, ignore_nulls=True).alias("content"))["content"]


def _text(value: pl.Expr, kind: pl.DataType, usual: object) -> pl.Expr:
    """A value as whole numbers or as it stands: how a library writes a day or a fraction may change."""
    if usual is not None:
        value = pl.when(value != usual).then(value)
    if isinstance(kind, pl.List):
        return value.list.join(";")
    if kind == pl.Date:
        return value.cast(pl.Int32).cast(pl.String)
    if kind in (pl.Time, pl.Boolean):
        return value.cast(pl.Int64).cast(pl.String)
    if kind == pl.Float64:
        return (value * 1_000_000).round().cast(pl.Int64, strict=False).cast(pl.String)
    return value.cast(pl.String)


def ids_of(rows: pl.DataFrame, taken: Iterable[int] = ()) -> pl.Series:
    """An id for each row of `rows` (`content`, `note`), all different, and different from those `taken`.

    Equal rows are numbered as they come. Where two hashes meet, the later by content is hashed again with a salt.
    """
    pending = rows.select("content", pl.col("note").fill_null("")).with_row_index("nth")
    notes = pending["note"].unique()
    hashes = _hashes(pl.concat([pending["content"].rename("text"), notes.rename("text")]))
    of_note = pending["note"].replace_strict(notes, hashes.tail(notes.len()), return_dtype=pl.UInt64)
    pending = pending.with_columns(of_content=hashes.head(pending.height), of_note=of_note)
    pending = pending.with_columns(number=pl.int_range(pl.len()).over("of_content", "of_note"))
    gone = pl.Series([0, *taken], dtype=pl.Int64)  # what a count found has the id of its draw with a minus
    settled, salt = [pl.DataFrame(schema={"nth": pl.UInt32, "id": pl.Int64})], 0
    while pending.height:
        hashed = pending.with_columns(id=_salted(pending, salt))
        meets = hashed["id"].is_duplicated() | hashed["id"].is_in(gone.implode())
        several = hashed.filter(meets).sort("content", "note", "number")
        first = several["id"].is_first_distinct() & ~several["id"].is_in(gone.implode())
        settled += [part.select("nth", "id") for part in (hashed.filter(~meets), several.filter(first))]
        gone = pl.concat([gone, settled[-2]["id"], settled[-1]["id"]])
        pending = several.filter(~first).drop("id")
        salt += 1
    return pl.concat(settled).sort("nth")["id"].alias("row_id")


def _salted(rows: pl.DataFrame, salt: int) -> pl.Series:
    """A number of `BITS` bits for each row."""
    again, size = salt // _SALTS, 2**NOTE_BITS
    upper = _hashes(rows["content"] + f"\x1e{again}") if again else rows["of_content"]
    lower = rows["of_content"] % size + rows["of_note"] % size + rows["number"].cast(pl.UInt64) + salt * _STEP
    return (upper // 2 ** (64 - BITS + NOTE_BITS) * size + lower % size).cast(pl.Int64)


def _hashes(texts: pl.Series) -> pl.Series:
    """Half of the MD5 (RFC 1321) of each text, the same everywhere and always; it guards nothing here."""
    # one by one: to begin another database for it takes longer than all texts of a shop
    found = [int.from_bytes(md5(text.encode(), usedforsecurity=False).digest()[8:], "little") for text in texts]
    return pl.Series("hash", found, dtype=pl.UInt64)
