"""What people read tells the truth: the tables and checks that a comment, a docstring or the guide names are there."""

import re
from collections.abc import Iterator

import duckdb

from pipeline.database.plan import GIVEN, LAYERS, read_plan
from tests.house import sources

TABLE = re.compile(rf"`((?:{'|'.join((*GIVEN, *LAYERS, 'checks'))})\.\w+)")
CHECK = re.compile(r"check `(\w+)`")
FILE = (".py", ".toml", ".csv", ".js", ".sql")


def texts() -> Iterator[tuple[str, str]]:
    """What people read of the house: README and guide, its Python, its SQL."""
    paths = [sources.ROOT / name for name in ("README.md", "DEVELOPERS.md")]
    for folder in (*sources.FOLDERS, "sql"):
        paths += [path for path in (sources.ROOT / folder).rglob("*.*") if path.suffix in (".py", ".sql", ".toml")]
    for path in sorted(paths):
        yield path.relative_to(sources.ROOT).as_posix(), path.read_text(encoding="utf-8")


def test_the_tables_and_checks_that_comments_name_are_there(empty: duckdb.DuckDBPyConnection) -> None:
    """Between backticks, in whatever people read."""
    query = "select table_schema || '.' || table_name from information_schema.tables"
    there = {name for (name,) in empty.execute(query).fetchall()} | {check.table for check in read_plan().checks}
    named = [(path, name) for path, text in texts() for name in TABLE.findall(text) if not name.endswith(FILE)]
    named += [(path, f"checks.{name}") for path, text in texts() for name in CHECK.findall(text)]
    assert len(named) > 100
    assert [f"{path}: {name}" for path, name in named if name not in there] == []
