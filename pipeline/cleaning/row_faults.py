"""What is wrong with the rows of a table: the faults of each field, and of each row the first, with reason and mend."""

import polars as pl

from pipeline.errors import FAULTS
from pipeline.mapping import Mapping, column_of
from pipeline.mapping.private_columns import torn
from pipeline.readers.mask_contacts import mask_shown
from pipeline.readers.reader_output import TextTable
from pipeline.records import Field, Record
from pipeline.tables import in_polars, intake

CODES = {
    "tags": "tag",
    "length": "quantity",
    "temperature": "number",
    "percent": "number",
    "yes_no": "yes-no",
    "text": "too-long",
    "word": "too-long",
}
"""Kind of field → the fault of a cell from which no value came, where it isn't named like the kind."""

FAULT: dict[str, type[pl.DataType]] = {
    "at": pl.UInt32,
    "place": pl.Int64,
    "code": pl.String,
    "field": pl.String,
    "text": pl.String,
    "hint": pl.String,
}

REJECTED = in_polars(intake("rejected"))


def still_needed(faults: list[pl.DataFrame], field: Field, cells: pl.DataFrame) -> list[pl.DataFrame]:
    """The faults without those of a field that is missing in rows which have what takes away the need of it."""
    if field.unless not in cells.columns:
        return faults
    told = cells[field.unless].is_not_null().arg_true()
    return [each.filter((pl.col("code") != "missing") | ~pl.col("at").is_in(told.implode())) for each in faults]


def of_torn(table: TextTable, mapping: Mapping) -> pl.DataFrame:
    """The rows in which a field stands behind a buyer's column and may hold what was there: before all other faults,
    without their text."""
    moved, behind = torn(table)
    named_in = (mapping.columns | mapping.helpers).items()
    fields = [name for name, header in named_in if column_of(table, header) in behind]
    at = moved.arg_true() if fields else moved.clear().arg_true()
    named = {"place": -1, "code": "torn", "field": fields[0] if fields else "", "text": None, "hint": ""}
    return pl.DataFrame({"at": at}).select(
        "at", *(pl.lit(value, FAULT[name]).alias(name) for name, value in named.items())
    )


def all_missing(height: int, field: Field, place: int) -> list[pl.DataFrame]:
    """The faults of a needed field that the mapping fills from nowhere."""
    if not field.required or field.numbered:
        return []
    at = pl.DataFrame({"at": pl.int_range(height, dtype=pl.UInt32, eager=True)})
    named = {"place": place, "code": "missing", "field": field.name, "text": None, "hint": ""}
    return [at.with_columns(pl.lit(value, FAULT[name]).alias(name) for name, value in named.items())]


def of_cells(parsed: pl.DataFrame, field: Field, place: int) -> pl.DataFrame:
    """The cells of the field that can't be used: `at` (position), `place` of the field, code, field, text, hint."""
    codes = [pl.col("code")] if "code" in parsed.columns and parsed["code"].null_count() < parsed.height else []
    if parsed["value"].null_count() > parsed["text"].null_count():
        # whatever the reason: what stands in a cell is a value, or its row is set aside
        lost = pl.col("text").is_not_null() & pl.col("value").is_null()
        codes.append(pl.when(lost).then(pl.lit(CODES.get(field.kind, field.kind))))
    if field.required and parsed["text"].null_count():
        codes.append(pl.when(pl.col("text").is_null()).then(pl.lit("missing")))
    if field.sign != "any" and _at_most(parsed["value"], field.sign):
        wrong = pl.col("value") < 0 if field.sign == "not negative" else pl.col("value") <= 0
        codes.append(pl.when(wrong).then(pl.lit("range")))
    if not codes:
        return pl.DataFrame(schema=FAULT)
    hint = pl.col("hint") if "hint" in parsed.columns else pl.lit("")
    found = (
        parsed.with_row_index("at")
        .with_columns(pl.coalesce(codes).alias("code"), hint.alias("hint"))
        .filter(pl.col("code").is_not_null())
    )
    return found.select(
        "at",
        pl.lit(place, pl.Int64).alias("place"),
        "code",
        pl.lit(field.name).alias("field"),
        "text",
        pl.col("hint").fill_null(""),
    )


def as_written(faults: pl.DataFrame, written: pl.Series) -> pl.DataFrame:
    """The faults with the cells as the file has them, whatever digits that may be in."""
    return faults.with_columns(written.gather(faults["at"]).alias("text")) if faults.height else faults


def first(faults: list[pl.DataFrame], cells: pl.DataFrame, record: Record, file: str, sheet: str) -> pl.DataFrame:
    """The first fault of each row that has any, in the order of the record's fields, with reason and suggestion."""
    if not any(f.height for f in faults):
        return pl.DataFrame(schema={"at": pl.UInt32, **REJECTED})
    found = (
        pl.concat([f.cast(pl.Schema(FAULT)) for f in faults if f.height])
        .sort("at", "place", maintain_order=True)
        .unique("at", keep="first", maintain_order=True)
    )
    reasons = {code: f"{fault.title}. {fault.meaning}" for code, fault in FAULTS.items()}
    mends = {code: fault.mend for code, fault in FAULTS.items()}
    return found.with_columns(
        pl.lit(file).alias("file"),
        pl.lit(sheet).alias("sheet"),
        cells["row"].gather(found["at"]).alias("row"),
        cells["occurrence"].gather(found["at"]).alias("occurrence"),
        pl.lit(record.name).alias("record"),
        mask_shown(found["text"]).str.slice(0, 500),
        pl.col("code").replace_strict(reasons, return_dtype=pl.String).alias("reason"),
        pl.when(pl.col("hint") == "")
        .then(pl.col("code").replace_strict(mends, return_dtype=pl.String))
        .otherwise("hint")
        .alias("suggestion"),
    )


def _at_most(values: pl.Series, sign: str) -> bool:
    below = values < 0 if sign == "not negative" else values <= 0
    return bool(below.any())
