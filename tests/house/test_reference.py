"""The tables of `pipeline/reference` are whole: every row has all its cells, and says where it is from."""

import csv
from pathlib import Path

import pytest

TABLES = sorted((Path(__file__).parents[2] / "pipeline" / "reference").glob("*.csv"))


@pytest.mark.parametrize("table", TABLES, ids=lambda path: path.name)
def test_every_row_has_all_its_cells_and_a_source(table: Path) -> None:
    with table.open(encoding="utf-8", newline="") as file:
        head, *rows = csv.reader(file)
    assert "source" in head
    assert [row for row in rows if len(row) != len(head) or not row[head.index("source")].strip()] == []
