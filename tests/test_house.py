"""The rules of the house: who may lean on whom, and that nothing is half done.

Two floors: nothing in `pipeline/` imports `dashboard/`, and of ours `dashboard/` imports only `pipeline.pages` and
`pipeline.records`. Within `pipeline/` each room may lean on the rooms named beside it, and on itself.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import duckdb
import pytest

from pipeline.commands import COMMANDS
from pipeline.database.plan import LAYERS, layer_faults, read_plan
from pipeline.errors import FAULTS
from pipeline.readers import READERS
from pipeline.records import RECORDS
from tests import statements

ROOT = Path(__file__).parents[1]
MOST_LINES = 400
SINGLE_LISTS = {"RECORDS", "SETTINGS", "COMMANDS", "FAULTS"}

ROOMS: dict[str, set[str]] = {
    "errors": set(),
    "enough": set(),
    "records": set(),
    "settings": set(),
    "tables": {"records", "settings"},
    "reference": set(),
    "processes": set(),
    "writing": {"errors"},
    "shop": {"errors", "writing", "reference", "settings"},
    "backups": {"errors", "writing", "shop"},
    "readers": {"errors", "processes", "writing", "reference", "records"},
    "mapping": {"errors", "writing", "records", "reference", "readers", "shop"},
    "cleaning": {"errors", "reference", "records", "tables", "shop", "readers", "mapping"},
    "new_shop": {"errors", "writing", "reference", "records", "settings", "shop", "readers", "cleaning"},
    "linking": {"errors", "reference", "records", "settings", "tables", "shop", "cleaning"},
    "estimates": {"errors", "enough", "processes", "tables", "writing"},
    "database": {"errors", "writing", "processes", "tables", "shop", "estimates"},
    "proposing": {"errors", "writing", "reference", "records", "shop", "readers", "mapping", "cleaning", "database"},
    "asking": {
        *("errors", "writing", "reference", "records", "settings", "tables", "shop", "readers", "mapping", "cleaning"),
        *("linking", "database", "proposing"),
    },
    "quoting": {"errors", "tables", "writing", "shop", "cleaning", "linking", "database", "estimates"},
    "refresh": {
        *("errors", "reference", "records", "tables", "processes", "writing", "shop", "readers", "mapping", "cleaning"),
        *("new_shop", "linking", "database", "proposing", "asking", "quoting"),
    },
    "changing": {
        *("errors", "writing", "reference", "records", "settings", "processes", "shop", "cleaning", "database"),
        *("quoting", "refresh"),
    },
    "reports": {
        "errors",
        "enough",
        "writing",
        "records",
        "tables",
        "shop",
        "database",
        "proposing",
        "asking",
        "refresh",
    },
    "pages": {
        *(
            "errors",
            "enough",
            "records",
            "settings",
            "tables",
            "processes",
            "writing",
            "shop",
            "readers",
            "mapping",
            "cleaning",
            "new_shop",
        ),
        *(
            "estimates",
            "database",
            "proposing",
            "asking",
            "quoting",
            "reference",
            "refresh",
            "reports",
            "changing",
            "backups",
        ),
    },
    "commands": {
        *(
            "errors",
            "processes",
            "writing",
            "shop",
            "readers",
            "mapping",
            "new_shop",
            "database",
            "proposing",
            "quoting",
        ),
        *("asking", "refresh", "reports", "pages", "backups"),
    },
}
FROM_THE_DASHBOARD = {"pages", "records"}
MAKES_THE_DEMO = {"commands"}

MADE_OF_OUR_OWN = {
    ("pipeline.database", "create_given"): "names, types and meanings from the lists of settings and records",
    ("pipeline.database", "load"): "the name of a given table: another one is a KeyError",
    ("pipeline.estimates.run_estimate", "make_or_tell"): "the names of the package's own estimates",
    ("pipeline.estimates.run_estimate", "fill"): "the names, inputs and columns of the package's own estimates",
    ("pipeline.database.digests", "made"): "the name of one of the package's own models",
    ("pipeline.database.run", "_get"): "the name of one of the package's own models",
    ("pipeline.database.run", "_cursor"): "the name of the draft, which the tool gave it",
    ("pipeline.database.run", "prepare"): "the layers of the models, and the package's macros",
    ("pipeline.database.run", "make_table"): "the package's own models, from sql/ and estimates/",
    ("pipeline.database.run", "test_table"): "the @key and @check lines of the package's own models",
    ("pipeline.database.run", "_found"): "the package's own checks",
    ("pipeline.database.run", "_tell_all"): "meanings from the package's own models and from sql/columns.toml",
}
"""Functions that put a statement together, and of what. They are the refresh's own: nothing from outside gets there."""

PUBLISHED = ("cost", "material", "quality", "money", "price")


def modules(*folders: str) -> list[Path]:
    return [path for folder in folders for path in sorted((ROOT / folder).rglob("*.py"))]


def ours(path: Path) -> Iterator[tuple[str, str]]:
    """The imports of our own packages as (package, room), wherever in the module they stand."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            assert not node.level, f"{path}: a relative import hides what it leans on"
            assert node.module is not None
            names = [f"{node.module}.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        else:
            continue
        for name in names:
            package, _, rest = name.partition(".")
            if package in ("pipeline", "dashboard", "sample_data"):
                yield package, rest.partition(".")[0]


def room(path: Path) -> str:
    return path.relative_to(ROOT / "pipeline").parts[0].removesuffix(".py")


@pytest.mark.parametrize("path", modules("pipeline"), ids=lambda path: str(path.relative_to(ROOT)))
def test_a_room_leans_only_on_the_rooms_beside_it(path: Path) -> None:
    if path == ROOT / "pipeline" / "__init__.py":
        assert not list(ours(path))
        return
    own = room(path)
    assert own in ROOMS, "a new room: say on which others it may lean"
    for package, other in ours(path):
        if package == "pipeline":
            assert other in ROOMS[own] | {own}, f"{own} must not lean on {other}"
        else:
            assert (package, own) == ("sample_data", "commands"), f"{own} must not import {package}"


def test_the_rooms_have_no_circle() -> None:
    known: set[str] = set()
    for name, others in ROOMS.items():
        assert others <= known, f"{name} leans on a room that stands after it"
        known.add(name)


@pytest.mark.parametrize("path", modules("dashboard"), ids=lambda path: str(path.relative_to(ROOT)))
def test_the_dashboard_leans_on_two_rooms_only(path: Path) -> None:
    of_ours = {other for package, other in ours(path) if package == "pipeline"}
    assert of_ours <= FROM_THE_DASHBOARD
    assert not any(package == "sample_data" for package, _ in ours(path))


def test_no_statement_holds_text_from_outside() -> None:
    """Names are looked up in constant tables, values are bound: whatever runs a statement is given constants alone."""
    found = set(statements.faults(statements.texts(modules("pipeline", "dashboard")), MADE_OF_OUR_OWN))
    assert sorted(found) == []
    # none is excused that needs no excuse
    needed = set(statements.faults(statements.texts(modules("pipeline", "dashboard"))))
    assert set(MADE_OF_OUR_OWN) - needed == set()


@pytest.mark.parametrize("path", modules("pipeline", "dashboard"), ids=lambda path: str(path.relative_to(ROOT)))
def test_databases_are_opened_in_one_place(path: Path) -> None:
    """Two ways to open one file in one process fail; and a way of one's own would leave the doors open."""
    opens = re.search(r"duckdb\.connect\((?!\))", path.read_text(encoding="utf-8"))  # none in memory alone
    assert not opens or path == ROOT / "pipeline" / "database" / "__init__.py"


def test_the_models_keep_to_their_layers() -> None:
    plan = read_plan()  # raises where one doesn't
    assert len(plan.models) > 40
    made: set[str] = set()
    for table, model in plan.models.items():
        assert not list(layer_faults(table, model.inputs, plan.models))
        assert {name for name in model.inputs if name.partition(".")[0] in LAYERS} <= made
        made.add(table)


def columns(con: duckdb.DuckDBPyConnection) -> list[tuple[str, str, str, str]]:
    """Schema, table, column and type of every column that a model makes."""
    query = (
        "select schema_name, table_name, column_name, data_type from duckdb_columns() where not internal order by all"
    )
    return [row for row in con.execute(query).fetchall() if row[0] in (*LAYERS, "checks", "intake")]


def test_every_published_column_has_one_meaning(empty: duckdb.DuckDBPyConnection) -> None:
    found = columns(empty)
    published = {c for schema, table, c, _ in found if schema in PUBLISHED and not table.startswith("_")}
    told = set(read_plan().columns)
    assert sorted(published - told) == [], "columns without an entry in sql/columns.toml"
    assert sorted(told - {column for _, _, column, _ in found}) == [], "entries for columns that are no more"


def test_every_table_says_what_one_row_is(empty: duckdb.DuckDBPyConnection) -> None:
    query = (
        "select schema_name || '.' || table_name, comment from ("
        "select schema_name, table_name, comment from duckdb_tables()"
        " union all select schema_name, view_name, comment from duckdb_views()"
        ") where schema_name in ('work', 'cost', 'material', 'quality', 'money', 'price')"
    )
    unsaid = [table for table, comment in empty.execute(query).fetchall() if not (comment or "").startswith("One row")]
    assert unsaid == []


def test_published_whole_numbers_are_bigint(empty: duckdb.DuckDBPyConnection) -> None:
    """`sum` gives HUGEINT, which other tools read as a decimal or a rounded float."""
    wide = [
        f"{schema}.{table}.{column} {kind}"
        for schema, table, column, kind in columns(empty)
        if not table.startswith("_") and (kind in ("HUGEINT", "UHUGEINT", "INTEGER") or kind.startswith("DECIMAL"))
    ]
    assert wide == []


def test_money_is_whole_minor_units(empty: duckdb.DuckDBPyConnection) -> None:
    other = [
        f"{schema}.{table}.{column} {kind}"
        for schema, table, column, kind in columns(empty)
        if (column == "cents" or column.endswith("_cents")) and not table.startswith("_") and kind != "BIGINT"
    ]
    assert other == []


def test_no_fraction_in_the_arithmetic_of_cost(empty: duckdb.DuckDBPyConnection) -> None:
    """The same doubles summed in another order give another sum; rates and shares alone may be DOUBLE."""
    allowed = ("_share", "_rate", "hours", "_c", "_pct", "parts_a", "parts_b")  # a mix is a ratio
    floating = [
        f"{schema}.{table}.{column}"
        for schema, table, column, kind in columns(empty)
        if schema in ("work", "cost") and kind in ("DOUBLE", "FLOAT") and not column.endswith(allowed)
    ]
    assert floating == []


@pytest.mark.parametrize("path", modules("pipeline"), ids=lambda path: str(path.relative_to(ROOT)))
def test_files_are_written_in_one_way(path: Path) -> None:
    """`pipeline/writing/whole.py` alone puts files in place; logs of faults, which only grow, are the exception."""
    if room(path) == "writing":
        return
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            called = ast.unparse(node.func)
            assert not called.endswith((".write_text", ".write_bytes")), f"{called}: use whole.write"
            assert called not in ("os.replace", "os.rename", "os.link"), f"{called}: use whole.write or whole.rename"
            modes = {arg.value for arg in node.args if isinstance(arg, ast.Constant)}
            assert not (node.func.attr == "open" and modes & {"w", "wb", "x", "xb"}), f"{called}: use whole.write"


def test_every_fault_is_used() -> None:
    used: set[str] = set()
    for path in modules("pipeline"):
        if path.name != "errors.py":
            tree = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            used |= {node.value for node in tree if isinstance(node, ast.Constant) and isinstance(node.value, str)}
    assert sorted(set(FAULTS) - used) == []


def test_every_command_is_in_the_readme() -> None:
    # needs README.md, which is written by hand
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert [command.name for command in COMMANDS if f"kerfledger {command.name}" not in readme] == []


def test_every_record_and_suffix_is_in_the_docs() -> None:
    # needs README.md and DEVELOPERS.md, which are written by hand
    text = "".join((ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md"))
    assert [name for name in (*RECORDS, *READERS) if name not in text] == []


@pytest.mark.parametrize(
    "path", modules("pipeline", "dashboard", "sample_data"), ids=lambda path: str(path.relative_to(ROOT))
)
def test_modules_stay_small(path: Path) -> None:
    """But for the single lists, which are no code."""
    text = path.read_text(encoding="utf-8")
    listed = sum(
        (node.end_lineno or node.lineno) - node.lineno
        for node in ast.parse(text).body
        if isinstance(node, ast.Assign | ast.AnnAssign)
        and ast.unparse(node.targets[0] if isinstance(node, ast.Assign) else node.target) in SINGLE_LISTS
    )
    lines = len(text.splitlines()) - listed
    assert lines < MOST_LINES, f"{lines} lines"
