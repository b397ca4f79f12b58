"""The records described by an open standard, generated from `RECORDS`: a Table Schema for each, for a Data Package.

Data Package and Table Schema, version 2 (datapackage.org/standard). What is described is what is stored: the columns of
`records.<record>` and of the files that `kerfledger export` writes.
"""

from typing import Any

from pipeline.records import Field, Record
from pipeline.tables import in_json

PROFILE = "https://datapackage.org/profiles/2.0/"

_STORED_IN = {
    "money": "Whole minor units of the shop's currency.",
    "length": "Micrometres.",
    "duration": "Seconds.",
    "quantity": "Whole base units, as the column of the unit says; `each` and `kit` count thousandths.",
    "temperature": "Degrees Celsius.",
    "percent": "Hundredths of the whole: 55 is 55 %.",
}


def table_schema(record: Record) -> dict[str, Any]:
    """The Table Schema of `records.<record>`."""
    row_id = {
        "name": "row_id",
        "type": "integer",
        "description": "Leads to file, sheet and row in intake.row.",
        "constraints": {"required": True},
    }
    described = [row_id, *(column for field in record for column in _columns(field))]
    schema: dict[str, Any] = {"$schema": f"{PROFILE}tableschema.json", "fields": described, "primaryKey": ["row_id"]}
    return schema | ({"uniqueKeys": [[record.key]]} if record.key else {})


def _columns(field: Field) -> list[dict[str, Any]]:
    return [_column(field, place, name, kind) for place, (name, kind) in enumerate(field.columns().items())]


def _column(field: Field, place: int, name: str, kind: str) -> dict[str, Any]:
    if place:  # the unit beside a quantity
        return {"name": name, "type": in_json(kind), "description": f"Unit of {field.name}."}
    told = " ".join(filter(None, (field.meaning, _STORED_IN.get(field.kind))))
    described: dict[str, Any] = {"name": name, "title": field.name, "type": in_json(kind), "description": told}
    constraints = _constraints(field)
    return described | ({"constraints": constraints} if constraints else {})


def _constraints(field: Field) -> dict[str, Any]:
    found: dict[str, Any] = {"required": True} if field.needed({field.unless}) else {}
    if field.choices:
        found["enum"] = list(field.choices)
    return found | {"positive": {"exclusiveMinimum": 0}, "not negative": {"minimum": 0}}.get(field.sign, {})
