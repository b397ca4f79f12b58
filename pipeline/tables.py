"""The tables that the models are given: their columns, types and meanings, once, for DuckDB, Polars and JSON.

What comes of a record or a setting follows from `RECORDS` and `SETTINGS`; the rest stands here.
"""

from collections.abc import Mapping
from typing import TYPE_CHECKING

from pipeline.records import RECORDS
from pipeline.settings import SETTINGS

if TYPE_CHECKING:
    import polars as pl

Columns = dict[str, str]
"""Column → DuckDB type."""

TYPES = {
    "VARCHAR": ("String", "string"),
    "BIGINT": ("Int64", "integer"),
    "DOUBLE": ("Float64", "number"),
    "BOOLEAN": ("Boolean", "boolean"),
    "DATE": ("Date", "date"),
    "TIME": ("Time", "time"),
}
"""DuckDB type of a stored column → the Polars type of that name, the type of a Table Schema (datapackage.org)."""


def in_polars(columns: Mapping[str, str]) -> "dict[str, pl.DataType | type[pl.DataType]]":
    """The columns with their Polars types."""
    import polars as pl  # here: a command that only looks up needs none

    single = {kind: getattr(pl, name) for kind, (name, _) in TYPES.items()}
    return {c: pl.List(single[kind[:-2]]) if kind.endswith("[]") else single[kind] for c, kind in columns.items()}


def in_json(kind: str) -> str:
    """What a DuckDB type is in a Table Schema."""
    return "array" if kind.endswith("[]") else TYPES[kind][1]


def _columns(told: str) -> Columns:
    """Columns as `a b VARCHAR, c BIGINT` names them: some names, then the type of them all."""
    parts = (part.split() for part in told.split(","))
    return {name: kind for *names, kind in parts for name in names}


PLACE = ("file", "sheet", "row", "occurrence")
"""The columns that say where a row stands; of several rows on one line, which one."""

INTAKE: dict[str, tuple[str, Columns]] = {
    "file": (
        "One row per table of a file: how it was read, and what became of its rows.",
        _columns(
            "file sheet record mapping how VARCHAR,"
            "rows loaded duplicate set_aside ignored masked BIGINT, message VARCHAR"
        ),
    ),
    "row": (
        "One row per row id: the file, sheet and row that it stands for; of several on one line, which one (from 0).",
        _columns("row_id BIGINT, record file sheet VARCHAR, row occurrence BIGINT, state VARCHAR, twin_of BIGINT"),
    ),
    "rejected": (
        "One row per row set aside, with the reason and what would mend it.",
        _columns("file sheet VARCHAR, row occurrence BIGINT, record code field text reason suggestion VARCHAR"),
    ),
    "ignored": (
        "One row per row of a file that is no record, such as a title or a total.",
        _columns("file sheet VARCHAR, row BIGINT, reason text VARCHAR"),
    ),
    "unknown_word": (
        "One row per word that no vocabulary knows, with the nearest one that it does.",
        _columns("vocabulary word nearest VARCHAR, rows BIGINT, file VARCHAR"),
    ),
    "question": (
        "One row per question that only the maker can answer, asked once for the shop, most money first.",
        _columns("question VARCHAR, position BIGINT, kind ask holds wants VARCHAR, files rows worth_cents BIGINT"),
    ),
    "question_choice": (
        "One row per answer that a question can have, with what it does and what it writes (JSON).",
        _columns("question VARCHAR, choice BIGINT, label does writes VARCHAR"),
    ),
    "question_file": (
        "One row per table of a file that a question comes up in, and field of it; first_cents: those of its"
        " worth_cents that no question before it is about, so that each row counts once.",
        _columns("question file sheet record field VARCHAR, rows worth_cents first_cents BIGINT"),
    ),
    "likely_word": (
        "One row per word of a file that can mean several things, and was taken for the likeliest.",
        _columns("vocabulary word taken others VARCHAR, rows BIGINT, file VARCHAR"),
    ),
    "column": (
        "One row per column of a table of a file: the field that it is, or why it is none.",
        _columns("file sheet header field why VARCHAR, rows BIGINT"),
    ),
    "unlinked": (
        "One row per tag that leads to no piece, lot or order.",
        _columns("row_id BIGINT, record field tag VARCHAR"),
    ),
    "quote": (
        # `quotes/<tag>.json` holds one, under these names, and more for its sheet
        "One row per saved quote: what was asked for, the cost predicted for one unit, and the price.",
        _columns(
            "quote file VARCHAR, on_date DATE, product species finish VARCHAR, quantity BIGINT, channel VARCHAR,"
            "quoted_price_cents predicted_10_cents predicted_50_cents predicted_80_cents predicted_90_cents"
            " quoted_labour_cents quoted_machine_cents quoted_overhead_cents quoted_material_cents"
            " quoted_rework_cents BIGINT, quoted_hours DOUBLE"
        ),
    ),
    "failed_estimate": (
        "One row per estimate that could not be worked out; its table is empty, and all other figures stand.",
        _columns("estimate meaning fault VARCHAR"),
    ),
    "closed": (
        "One row per line or figure of a month that was closed, as it stood then.",
        _columns(
            "month DATE, kind name place layer VARCHAR, on_date DATE, piece item operation VARCHAR,"
            "own_labour BOOLEAN, amount BIGINT"
        ),
    ),
}

REFERENCE: dict[str, tuple[str, Columns]] = {
    "species": (
        "One row per species of the reference table, with its pore structure (sources stand in the table).",
        _columns("species botanical_name pore_structure VARCHAR, specific_gravity_12 DOUBLE"),
    ),
    "layer": (
        "One row per layer of cost, in the order in which layers are listed.",
        _columns("layer cost_group VARCHAR, position BIGINT, in_piece BOOLEAN"),
    ),
}


def intake(table: str) -> Columns:
    """The columns of `intake.<table>`."""
    return INTAKE[table][1]


def place_columns() -> Columns:
    """The columns of `PLACE` with their types."""
    return {name: intake("row")[name] for name in PLACE}


def given_tables() -> dict[str, Columns]:
    """Every table that the models are given, `schema.name` → columns with their DuckDB types."""
    bridges = {
        f"records.{r.name}_piece": _columns("row_id BIGINT, piece VARCHAR, position BIGINT")
        for r in RECORDS.values()
        if r.list_fields()
    }
    return (
        {f"settings.{t.name}": t.columns() for t in SETTINGS.values()}
        | {f"settings.{name}": columns for name, (_, columns) in REFERENCE.items()}
        | {f"intake.{name}": columns for name, (_, columns) in INTAKE.items()}
        | {f"records.{r.name}": r.columns() for r in RECORDS.values()}
        | bridges
    )


IN_INTAKE = {
    "closed.name": "Table of the closed month: which figures it holds.",
    "column.header": "Header of the column, as written.",
    "column.why": "Why it is that field, or none.",
    "failed_estimate.estimate": "Table of the estimate that could not be worked out.",
    "failed_estimate.meaning": "What the estimate would have told.",
    "failed_estimate.fault": "What went wrong, without the text of any cell.",
    "ignored.row": "Line of the file, or row of the sheet, from 1.",
    "likely_word.taken": "What the word was taken for.",
    "likely_word.others": "What else it can mean.",
    "question.question": "Name of the question, the same from refresh to refresh.",
    "question.ask": "The question in words, with where it comes up.",
    "question.holds": "What waits for the answer: its rows (file), that they count as logged (money), or nothing.",
    "question.wants": "What is answered in words where nothing can be chosen; empty else.",
    "question.files": "Tables of files that it comes up in.",
    "question_choice.question": "Name of the question.",
    "question_choice.choice": "Number of the answer, from 1.",
    "question_choice.label": "The answer in words.",
    "question_choice.does": "What the answer writes, in words.",
    "question_choice.writes": "What the answer writes into shop.toml and mappings (JSON).",
    "question_file.question": "Name of the question.",
    "question_file.first_cents": "Of its money what no question before it is about.",
    "rejected.row": "Line of the file, or row of the sheet, from 1.",
    "rejected.occurrence": "Which of several rows on one line it is, from 0.",
    "row.row": "Line of the file, or row of the sheet, from 1.",
    "row.occurrence": "Which of several rows on one line it is, from 0.",
    "row.twin_of": "Row id of the record that tells the same event, and is counted.",
}
"""What columns of `intake` mean whose names mean other things elsewhere, or stand nowhere else."""


def meanings() -> dict[str, str]:
    """What the given tables and their columns mean, `table x` or `column x.y` → text."""
    told = {f"table intake.{name}": meaning for name, (meaning, _) in INTAKE.items()}
    told |= {f"table settings.{name}": meaning for name, (meaning, _) in REFERENCE.items()}
    told |= {f"column intake.{column}": meaning for column, meaning in IN_INTAKE.items()}
    told |= {
        "column settings.species.species": "Usual name of the wood.",
        "column settings.species.botanical_name": "Botanical name.",
        "column settings.species.pore_structure": "How its pores lie; open ones take more finish and trap air.",
        "column settings.layer.layer": "What kind of cost it is.",
        "column settings.layer.cost_group": "What a month shows it with: `sold_<group>_cents`.",
        "column settings.layer.position": "Its place in the list.",
        "column settings.layer.in_piece": "Whether it is a cost of a piece, with a column in `cost.piece`.",
        "column settings.species.specific_gravity_12": "Weight against water's, oven dry, by volume at 12 % moisture.",
    }
    for settings in SETTINGS.values():
        table = f"settings.{settings.name}"
        told[f"table {table}"] = settings.meaning
        told |= {f"column {table}.{s.column}": s.why for s in (*settings.settings, *settings.dated_settings)}
        told[f"column {table}.row_id"] = "Row id of the setting, as in intake.row."
        told[f"column {table}.position"] = "Its place among the entries of its kind in shop.toml, from 1."
        told[f"column {table}.from_date"] = "First day on which it is in force."
    told["column settings.shop.minor_units"] = "Minor units (cents) in one unit of the currency."
    told["column settings.shop.as_of"] = "The day of the refresh; what a calendar holds after it is planned."
    for record in RECORDS.values():
        table = f"records.{record.name}"
        told[f"table {table}"] = record.meaning
        told[f"column {table}.row_id"] = "Row id of the record, as in intake.row."
        for field in record:
            for column in field.columns():
                unit = column.endswith("_unit") and not field.name.endswith("unit")
                told[f"column {table}.{column}"] = f"Unit of {field.name}." if unit else field.meaning
        if record.list_fields():
            told[f"table {table}_piece"] = f"One row per piece that a row of {table} names, in the order named."
            told[f"column {table}_piece.row_id"] = f"Row id of the row of {table}."
            told[f"column {table}_piece.piece"] = "Tag of a piece it names."
            told[f"column {table}_piece.position"] = "Place in the order named, from 1."
    return told
