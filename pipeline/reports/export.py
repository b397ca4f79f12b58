"""Every published table as Parquet or CSV files, with a Data Package that describes them (open standard, version 2)."""

import json
from io import BytesIO
from pathlib import Path
from typing import Any

import duckdb
import polars as pl
import polars.selectors as cs

from pipeline.errors import UserError
from pipeline.records import RECORDS
from pipeline.reports.schema import table_schema
from pipeline.tables import in_json
from pipeline.writing import whole
from pipeline.writing.formula_guard import neutral

FORMATS = ("parquet", "csv")
DESCRIPTOR = "datapackage.json"

_MEDIA = {"parquet": "application/vnd.apache.parquet", "csv": "text/csv"}

_COLUMNS = """
select schema_name, table_name, column_name, data_type, comment from duckdb_columns()
where not internal and not starts_with(table_name, '_') order by schema_name, table_name, column_index
"""
_TABLES = """
select schema_name, table_name, comment from duckdb_tables() where not internal
union all by name select schema_name, view_name as table_name, comment from duckdb_views() where not internal
"""


def export(con: duckdb.DuckDBPyConnection, folder: Path, kind: str = "parquet") -> list[Path]:
    """Write every published table below `folder`, one file each, and `datapackage.json` last. Gives the files."""
    if kind not in FORMATS:
        raise UserError(f"There is no format {kind!r}.", "", f"Choose one of: {', '.join(FORMATS)}.")
    if folder.exists() and not folder.is_dir():
        raise UserError("This is a file, no folder.", str(folder), "Name another folder.")
    whole.make_folder(folder)
    columns: dict[str, list[tuple[str, str, str | None]]] = {}
    for schema, table, *column in con.execute(_COLUMNS).fetchall():
        columns.setdefault(f"{schema}.{table}", []).append((column[0], column[1], column[2]))
    comments = {f"{schema}.{table}": comment for schema, table, comment in con.execute(_TABLES).fetchall()}
    written = [_table(con, name, folder / f"{name}.{kind}", kind) for name in columns]
    described = [_resource(name, comments[name], fields, kind) for name, fields in columns.items()]
    text = json.dumps(_package(con, described), indent=2, ensure_ascii=False)
    return [*written, whole.write(folder / DESCRIPTOR, text)]


def _table(con: duckdb.DuckDBPyConnection, name: str, path: Path, kind: str) -> Path:
    frame = con.table(name).order("all").pl()
    content = BytesIO()
    if kind == "csv":
        _flat(frame).write_csv(content)
    else:
        frame.write_parquet(content, compression="zstd")
    return whole.write(path, content.getvalue())


def _flat(frame: pl.DataFrame) -> pl.DataFrame:
    """The frame with lists as JSON, and no text that a spreadsheet would run."""
    lists = [name for name, kind in frame.schema.items() if isinstance(kind, pl.List)]
    return frame.with_columns(neutral(cs.string()), *(_as_json(frame[name]) for name in lists))


def _as_json(lists: pl.Series) -> pl.Series:
    told = [None if cells is None else json.dumps(cells, ensure_ascii=False) for cells in lists.to_list()]
    return pl.Series(lists.name, told, pl.String)


def _resource(name: str, comment: str | None, fields: list[tuple[str, str, str | None]], kind: str) -> dict[str, Any]:
    described = [
        {"name": column, "type": in_json(type_)} | ({"description": told} if told else {})
        for column, type_, told in fields
    ]
    resource: dict[str, Any] = {
        "name": name,
        "type": "table",
        "path": f"{name}.{kind}",
        "format": kind,
        "mediatype": _MEDIA[kind],
    }
    if kind == "csv":
        resource["encoding"] = "utf-8"
    if comment:
        resource["description"] = comment
    record = RECORDS.get(name.removeprefix("records.")) if name.startswith("records.") else None
    return resource | {"schema": table_schema(record) if record else {"fields": described}}


def _package(con: duckdb.DuckDBPyConnection, resources: list[dict[str, Any]]) -> dict[str, Any]:
    shop, currency = con.execute("select name, currency from settings.shop").fetchall()[0]
    return {
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": "kerfledger-tables",
        "title": f"{shop}: published tables",
        "description": (
            f"Money stands in minor units of {currency}. In CSV files a text that a spreadsheet would run as a formula "
            "has an apostrophe before it. Management figures, no tax advice."
        ),
        "resources": resources,
    }
