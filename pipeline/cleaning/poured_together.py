"""A pour over several pieces in one row, "HS-220 & HS-221": a row for each piece, which share the tag of their pour."""

from dataclasses import replace

import polars as pl

from pipeline.cleaning.parsed import UnreadableError
from pipeline.cleaning.tags import tag_list
from pipeline.mapping import Mapping, column_of
from pipeline.readers.reader_output import TextTable

POUR = "pour of that row"
"""What the header of the column is that tells the pours of such a table apart."""

OF_ONE_PIECE = ("deposited", "trimmed")
"""What a row says of its own piece: where it is told, nobody knows how much of it is of which."""
_SEVERAL = r"[;,/+&]|\b(?:and|und|et|y|e|en)\b"


def unfolded(table: TextTable, mapping: Mapping) -> tuple[TextTable, Mapping]:
    """The table with a row for each piece of a pour, and the mapping by which that is read."""
    column = column_of(table, mapping.columns.get("piece", "")) if mapping.record == "pours" else None
    if not column:
        return table, mapping
    texts = table.frame.filter(pl.col(column).str.contains(_SEVERAL))[column].unique()
    several = {text: tags for text in texts if len(tags := _tags(text)) > 1}
    own = [name for field in OF_ONE_PIECE if (name := column_of(table, mapping.columns.get(field, "")))]
    free = pl.col(column).is_in(list(several)) & pl.all_horizontal(
        pl.lit(value=True), *(pl.col(c).is_null() for c in own)
    )
    if table.frame.filter(free).is_empty():
        return table, mapping
    alone = pl.concat_list(column)
    each = pl.col(column).replace_strict(several, default=None, return_dtype=pl.List(pl.String))
    frame = table.frame
    names, columns = table.names, mapping.columns
    if "pour" not in mapping.filled:
        added = f"c{len(table.columns)}"
        day = column_of(table, mapping.columns.get("date", ""))
        told = pl.concat_str(*([day] if day else []), column, separator="-", ignore_nulls=True)
        tag_of_row = told.str.replace_all(r"[^\p{L}\p{N}]+", "-").str.strip_chars("-")
        frame = frame.with_columns(_tag=tag_of_row).with_columns(_number=pl.int_range(1, pl.len() + 1).over("_tag"))
        numbered = pl.when(pl.col("_number") == 1).then("_tag").otherwise(pl.format("{}-{}", "_tag", "_number"))
        frame = frame.select(*table.columns, numbered.alias(added), "row")
        names = (*names, *[""] * (len(table.columns) - len(names)), POUR)
        columns = columns | {"pour": POUR}
    frame = frame.with_columns(pl.when(free).then(each).otherwise(alone).alias(column)).explode(column)
    return replace(table, frame=frame, names=names), replace(mapping, columns=columns)


def _tags(text: str) -> list[str]:
    try:
        found = tag_list(text)
    except UnreadableError:
        return []
    return found if all(any(map(str.isdigit, tag)) for tag in found) else []
