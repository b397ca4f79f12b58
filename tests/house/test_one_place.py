"""A fact stands in one place: what a module must not say, because another one says it already."""

import ast
import re
from pathlib import Path

from pipeline.database.plan import read_plan
from pipeline.records import MAKERS, RECORDS, STOCK_CATEGORIES
from pipeline.reference import rows
from pipeline.tables import INTAKE, TYPES
from tests.house.sources import definitions, files

SAY_TYPES = ("records.py", "settings.py", "tables.py")
"""Modules that give columns their DuckDB types; an estimate gives those of its own table."""


def constants(tree: ast.Module) -> set[str]:
    return {node.value for node in ast.walk(tree) if isinstance(node, ast.Constant) and isinstance(node.value, str)}


def test_types_of_columns_are_mapped_in_one_place() -> None:
    others = [
        str(path)
        for path, tree in files().items()
        if path.name not in SAY_TYPES
        and path.parts[:2] != ("pipeline", "estimates")
        and len(constants(tree) & set(TYPES)) > 3
    ]
    assert others == ["pipeline/quoting/saved_quotes.py"]  # what a value of JSON must be to be one of a column


def test_columns_of_what_came_in_are_listed_in_one_place() -> None:
    """A dictionary that holds all columns of a table of `intake` is a second list of them."""
    tables = {name: set(columns) for name, (_, columns) in INTAKE.items()}
    again = [
        f"{path}:{node.lineno} {name}"
        for path, tree in files().items()
        if path != Path("pipeline/tables.py")
        for node in ast.walk(tree)
        if isinstance(node, ast.Dict)
        for name, columns in tables.items()
        if len(columns) > 3
        and {key.value for key in node.keys if isinstance(key, ast.Constant)} == columns
        and all(isinstance(value, ast.Attribute | ast.Constant | ast.Call) for value in node.values)
    ]
    assert again == []


def test_where_a_tag_leads_is_said_by_its_field_alone() -> None:
    """Each kind of tag that a field leads to is made by one; and a field that leads somewhere is of a tag."""
    fields = [field for record in RECORDS.values() for field in record]
    assert {field.leads for field in fields if field.leads} <= set(MAKERS)
    assert all(field.kind in ("tag", "tags") for field in fields if field.leads or field.makes)
    assert not [field for field in fields if field.leads and field.makes]
    # a bridge table of a list of tags is one of pieces
    assert {field.leads for field in fields if field.kind == "tags"} == {"piece"}


def test_which_files_are_a_programs_own_is_said_in_one_place() -> None:
    saying = [str(path) for path, tree in files().items() if path.parts[0] == "pipeline" and "~$" in constants(tree)]
    assert saying == ["pipeline/shop/__init__.py"]


def test_words_of_languages_are_data() -> None:
    """What a row of `reference/phrases.csv` says in another language than English stands in no module a second time."""
    foreign = {
        row["word"]
        for row in rows("phrases")
        if row["language"] not in ("en", "") and len(row["word"]) > 4 and row["word"].isalpha()
    }
    again = {
        f"{path}: {text}"
        for path, tree in files().items()
        if path.parts[0] == "pipeline"
        for text in constants(tree)
        if set(re.findall(r"\w+", text)) & foreign and "\n" not in text and len(text) < 80
    }
    assert again == set()


SEVERAL_SENSES = {"told", "plain", "kept", "known", "meant", "desk", "lead", "said", "made", "taken", "asked", "drawn"}
"""Words that say nothing alone: each stood for two to seven things."""


def test_what_a_module_offers_is_named_by_what_it_is() -> None:
    vague = {
        f"{path}: {name}"
        for path, tree in files().items()
        for name, node in definitions(tree)
        if name.casefold() in SEVERAL_SENSES and isinstance(node, ast.FunctionDef | ast.ClassDef)
    }
    assert vague == set()


def test_the_days_of_all_records_stand_in_one_model() -> None:
    dated = {name for name, record in RECORDS.items() if {"DATE"} & set(record.columns().values())}
    models = read_plan().models
    # a change in practice is marked for a day; nothing was made, bought or sold on it
    assert models["work.recorded_day"].inputs == {f"records.{name}" for name in dated - {"changes"}}


def test_who_works_where_nobody_is_named_is_said_once() -> None:
    plan = read_plan()
    first = [m.table for m in (*plan.models.values(), *plan.checks) if re.search(r"role\s*=\s*'employee'", m.sql)]
    assert first == ["work.first_owner"]


def test_lists_of_stock_categories_in_sql_lack_none_unawares() -> None:
    """Which categories each such list leaves out; the list without is found by its table and place in it."""
    plan = read_plan()
    found = {
        f"{model.table} {place}": set(STOCK_CATEGORIES) - named
        for model in (*plan.models.values(), *plan.checks)
        for place, named in enumerate(_lists_of_categories(model.sql))
    }
    assert found == {
        "work._bought 0": set(),
        "work.in_count 0": set(),
        "work._bought 1": {"wood", "consumable"},  # the one decided before, the other what is none of these
        "work._had 0": {"wood", "resin", "packaging"},  # blanks and pours have records of their own
        # what a count finds short of these is waste: pours are weighed, and a board is no count of an item
        "work._count_driver 0": {"wood", "resin", "colourant"},
        "work.item 0": {"consumable"},  # what is none of these
        "checks.none_bought 0": {"wood"},  # a board without a size is asked about elsewhere
    }, "a stock category of pipeline/records.py that these lists lack, or a new list"


def _lists_of_categories(sql: str) -> list[set[str]]:
    """The lists of most stock categories and nothing else, in order."""
    lists = [set(re.findall(r"'([^']*)'", inside)) for inside in re.findall(r"\bin \(([^()]*)\)", sql)]
    return [named for named in lists if len(named) > len(STOCK_CATEGORIES) // 2 and named <= set(STOCK_CATEGORIES)]
