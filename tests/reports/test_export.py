"""Every published table as files, with their descriptor; a spreadsheet must not run a maker's words."""

import csv
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import duckdb
import polars as pl
import pytest

from pipeline.commands import main
from pipeline.database import open_newest
from pipeline.errors import UserError
from pipeline.reports.export import export

Books = Callable[..., duckdb.DuckDBPyConnection]

# the starts that OWASP's "CSV Injection" page names
DANGEROUS = ("=1+1", "+1", "-1", "@sum(a1)", "\tx", "\rx")


@pytest.fixture(scope="module")
def exported(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folders = {kind: tmp_path_factory.mktemp(kind) for kind in ("csv", "parquet")}
    with open_newest(demo) as con:
        for kind, folder in folders.items():
            export(con, folder, kind)
    return folders


def descriptor(folder: Path) -> dict[str, Any]:
    return json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("kind", ["csv", "parquet"])
def test_every_published_table_is_there_and_described(demo: Path, exported: dict[str, Path], kind: str) -> None:
    folder = exported[kind]
    package = descriptor(folder)
    with open_newest(demo) as con:
        tables = con.execute(
            "select schema_name || '.' || table_name, comment from duckdb_tables() where table_name[1] <> '_'"
            " union all select schema_name || '.' || view_name, comment from duckdb_views()"
            " where not internal and view_name[1] <> '_'"
        ).fetchall()
        for resource in package["resources"]:
            described = [(field["name"], field.get("description")) for field in resource["schema"]["fields"]]
            columns = con.execute(
                "select column_name, comment from duckdb_columns() where schema_name || '.' || table_name = ?"
                " order by column_index",
                [resource["name"]],
            ).fetchall()
            assert [name for name, _ in described] == [name for name, _ in columns]
            if not resource["name"].startswith("records."):  # those are described by the record types themselves
                assert described == columns
    assert {r["name"]: r.get("description") for r in package["resources"]} == dict(tables)
    assert {"money.month", "cost.trace", "cost.entry", "records.sales", "settings.shop", "intake.row"} <= {
        r["name"] for r in package["resources"]
    }
    assert {path.name for path in folder.iterdir()} == {r["path"] for r in package["resources"]} | {"datapackage.json"}
    assert package["$schema"] == "https://datapackage.org/profiles/2.0/datapackage.json"


def test_parquet_holds_the_rows_as_they_are(demo: Path, exported: dict[str, Path]) -> None:
    with open_newest(demo) as con:
        for table in ("money.month", "cost.trace", "records.hours"):
            there = con.sql(f"select * from {table} order by all").pl()
            assert pl.read_parquet(exported["parquet"] / f"{table}.parquet").equals(there)


def test_csv_holds_the_figures_and_the_types_that_are_described(demo: Path, exported: dict[str, Path]) -> None:
    resource = next(r for r in descriptor(exported["csv"])["resources"] if r["name"] == "money.month")
    types = {"integer": pl.Int64, "number": pl.Float64, "date": pl.Date, "boolean": pl.Boolean, "string": pl.String}
    schema = {field["name"]: types[field["type"]] for field in resource["schema"]["fields"]}
    read = pl.read_csv(exported["csv"] / resource["path"], schema=schema)
    with open_newest(demo) as con:
        assert read.equals(con.sql("from money.month order by all").pl())


def test_a_list_stands_as_json_in_csv(demo: Path, exported: dict[str, Path]) -> None:
    read = pl.read_csv(exported["csv"] / "records.hours.csv", infer_schema=False)
    lists = [json.loads(text) for text in read["pieces"].drop_nulls()]
    assert any(lists) and all(isinstance(tag, str) for tags in lists for tag in tags)


def test_no_cell_begins_a_formula(books: Books, tmp_path: Path) -> None:
    rows = "".join(f'2026-01-0{n},"{text}",hardware,5\n' for n, text in enumerate(DANGEROUS, 1))
    con = books(
        'name = "=cmd"\nstart = 2026-01-01\n',
        purchases="date,item,category,amount\n" + rows,
        pieces='piece,product,note\nT-1,tray,"=1+2"\nT-2,tray,"fine = so"\n',
        sales="date,channel,piece,quantity,price\n2026-01-09,fair,T-1,1,5\n2026-01-10,fair,T-1,-1,5\n",
    )
    export(con, tmp_path / "out", "csv")
    numbers = 0
    for path in (tmp_path / "out").glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as file:
            for row in csv.reader(file):
                for cell in row:
                    if cell[:1] in ("=", "+", "-", "@", "\t", "\r", "\n"):
                        float(cell)  # a number may be negative; nothing else may begin so
                        numbers += 1
    assert numbers  # the refund, at least
    notes = pl.read_csv(tmp_path / "out" / "records.pieces.csv", infer_schema=False)["note"].to_list()
    assert sorted(notes) == ["'=1+2", "fine = so"]
    names = pl.read_csv(tmp_path / "out" / "settings.shop.csv", infer_schema=False)["name"].to_list()
    assert names == ["'=cmd"]


def test_a_second_export_replaces_the_first_whole(books: Books, tmp_path: Path) -> None:
    con = books('name = "Shop"\nstart = 2026-01-01\n')
    first = export(con, tmp_path / "out")
    assert export(con, tmp_path / "out") == first
    assert not list((tmp_path / "out").glob("*.draft"))
    assert first[-1].name == "datapackage.json"


def test_a_wrong_call_says_what_to_do(books: Books, tmp_path: Path) -> None:
    con = books('name = "Shop"\nstart = 2026-01-01\n')
    with pytest.raises(UserError, match="no format 'xml'"):
        export(con, tmp_path / "out", "xml")
    (tmp_path / "file").touch()
    with pytest.raises(UserError, match="a file, no folder"):
        export(con, tmp_path / "file")


def test_the_command_exports_into_the_shop_or_elsewhere(
    books: Books, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    books('name = "Shop"\nstart = 2026-01-01\n').close()
    assert main(["export", str(tmp_path / "books")]) == 0
    assert (tmp_path / "books" / "reports" / "export" / "money.month.parquet").is_file()
    assert "described in datapackage.json" in capsys.readouterr().out
    assert main(["export", str(tmp_path / "books"), "--to", str(tmp_path / "out"), "--format", "csv", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["files"][-1] == str(tmp_path / "out" / "datapackage.json")
