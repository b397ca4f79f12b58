"""Two databases held against each other, table by table."""

from pathlib import Path

import duckdb

# what DuckDB tells of a view's own text varies: it keeps the order of a REPLACE by hash
_TABLES = (
    "select schema_name || '.' || table_name as name, comment from duckdb_tables() where database_name = $1"
    " union all select schema_name || '.' || view_name, comment from duckdb_views() where database_name = $1"
    " and not internal order by all"
)
_COLUMNS = (
    "select schema_name, table_name, column_name, data_type, comment, column_index from duckdb_columns()"
    " where database_name = $1 and not internal order by all"
)
_MACROS = (
    "select function_name, parameters, macro_definition from duckdb_functions()"
    " where database_name = $1 and not internal order by all"
)


def differing(one: Path, two: Path) -> list[str]:
    """What differs between two databases: lists of tables, types, comments, macros; and tables of other rows."""
    with duckdb.connect() as con:
        con.execute("attach ? as one (read_only)", [str(one)])
        con.execute("attach ? as two (read_only)", [str(two)])
        lists = {"tables": _TABLES, "columns": _COLUMNS, "macros": _MACROS}
        found = [what for what, query in lists.items() if len({_text(con, query, name) for name in ("one", "two")}) > 1]
        tables = [name for name, _ in con.execute(_TABLES, ["one"]).fetchall()]
        return found + [table for table in tables if "tables" not in found and _other_rows(con, table)]


def _text(con: duckdb.DuckDBPyConnection, query: str, name: str) -> str:
    return repr(con.execute(query, [name]).fetchall())


def _other_rows(con: duckdb.DuckDBPyConnection, table: str) -> bool:
    pair = f"(from one.{table} except all from two.{table}) union all (from two.{table} except all from one.{table})"
    return bool(con.execute(f"select count(*) from ({pair})").fetchall()[0][0])
