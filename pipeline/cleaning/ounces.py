"""Ounces of resin: by weight on a scale, or fluid ounces in a measuring cup. A pour that says "oz" alone is asked
about, once for the shop: how much resin it took hangs on it."""

import polars as pl

from pipeline.cleaning import column_formats
from pipeline.cleaning.column_formats import Evidence
from pipeline.cleaning.cross_field_rules import fault
from pipeline.cleaning.quantities import OUNCES, is_fluid
from pipeline.mapping import Mapping
from pipeline.readers.reader_output import TextTable
from pipeline.records import RECORDS
from pipeline.shop import Shop

CODE = "ounces"
BY_VOLUME, BY_WEIGHT = "fl oz", "oz wt"
FIELDS = tuple(field.name for field in RECORDS["pours"] if field.kind == "quantity")
_BARE = r"^[^\p{L}]*$"


def faults(
    frame: pl.DataFrame, cells: pl.DataFrame, table: TextTable, mapping: Mapping, shop: Shop, shown: Evidence
) -> list[pl.DataFrame]:
    """The pours of which nothing says what ounces they are of."""
    if mapping.record != "pours" or {*OUNCES} & {word.casefold() for word in shop.words.get("unit", {})}:
        return []
    said, found = rf"(?i)\b(?:{'|'.join(OUNCES)})\b", []
    of_row = pl.lit(cells["unit"]) if "unit" in cells.columns else pl.lit(None, pl.String)
    for name in FIELDS:
        if name not in cells.columns or name in mapping.units:
            continue
        told = column_formats.about(table, mapping, RECORDS["pours"].field(name), shop, shown)
        if is_fluid(told.unit, told.header):
            continue
        text = pl.lit(cells[name])
        unit = pl.coalesce(of_row, pl.lit(told.unit or None, pl.String))
        ounces = pl.when(text.str.contains(_BARE)).then(unit).otherwise(text)
        wrong = ounces.str.contains(said) & ~ounces.str.contains(r"(?i)\bfl|\bwt|\bav")
        found.append(fault(frame, wrong.fill_null(value=False), CODE, name, "", text))
    return found
