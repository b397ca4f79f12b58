"""The open description of the records.

Held against Data Package and Table Schema, version 2 (datapackage.org/standard/data-package and /table-schema): the
names of types and constraints and which constraint goes with which type are written down here from memory.
"""

import json

import pytest

from pipeline.database import open_newest
from pipeline.records import RECORDS
from pipeline.reports.schema import table_schema
from pipeline.tables import in_json

ORDERED = {"integer", "number", "date", "time"}
FIELD_KEYS = {"name", "title", "type", "description", "constraints"}


def test_every_record_and_stored_column_is_described() -> None:
    for record in RECORDS.values():
        described = {field["name"]: field["type"] for field in table_schema(record)["fields"]}
        assert described == {name: in_json(kind) for name, kind in record.columns().items()}


def test_fields_say_what_the_record_says() -> None:
    for record in RECORDS.values():
        described = {field["name"]: field for field in table_schema(record)["fields"]}
        for field in record:
            for name in list(field.columns())[:1]:
                constraints = described[name].get("constraints", {})
                # one that another field may stand for is needed by no rule on a column
                assert constraints.get("required", False) == (field.required and not field.unless)
                assert constraints.get("enum", []) == list(field.choices)
                assert described[name]["title"] == field.name
                assert described[name]["description"].startswith(field.meaning)


def test_units_and_signs_are_told() -> None:
    hours = {field["name"]: field for field in table_schema(RECORDS["hours"])["fields"]}
    assert hours["seconds"]["description"].endswith("Seconds.")
    assert hours["seconds"]["constraints"] == {"exclusiveMinimum": 0}
    sales = {field["name"]: field for field in table_schema(RECORDS["sales"])["fields"]}
    # a price below zero is a return's, where a till writes it so
    assert sales["price_cents"]["constraints"] == {"required": True}
    orders = {field["name"]: field for field in table_schema(RECORDS["orders"])["fields"]}
    assert orders["price_cents"]["constraints"] == {"minimum": 0}
    assert table_schema(RECORDS["pieces"])["uniqueKeys"] == [["piece"]]


def test_it_keeps_to_the_standard() -> None:
    for record in RECORDS.values():
        schema = table_schema(record)
        assert json.loads(json.dumps(schema)) == schema
        assert schema["$schema"] == "https://datapackage.org/profiles/2.0/tableschema.json"
        fields = schema["fields"]
        names = [field["name"] for field in fields]
        assert len(names) == len(set(names))
        assert set(schema["primaryKey"]) <= set(names)
        for field in fields:
            assert set(field) <= FIELD_KEYS
            assert field["type"] in ORDERED | {"string", "boolean", "array"}
            bounds = {"minimum", "exclusiveMinimum"} & set(field.get("constraints", {}))
            assert not bounds or field["type"] in ORDERED


@pytest.mark.slow
def test_the_records_of_the_demo_keep_to_it(demo: object) -> None:
    with open_newest(demo) as con:  # type: ignore[arg-type]
        broken = []
        for record in RECORDS.values():
            for field in table_schema(record)["fields"]:
                rules = field.get("constraints", {})
                tests = [f'"{field["name"]}" is null'] if rules.get("required") else []
                if "enum" in rules:
                    tests.append(f'"{field["name"]}" not in {tuple(rules["enum"])}')
                tests += [f'"{field["name"]}" < 0'] if "minimum" in rules else []
                tests += [f'"{field["name"]}" <= 0'] if "exclusiveMinimum" in rules else []
                if tests:
                    query = f"select count(*) from records.{record.name} where {' or '.join(tests)}"
                    if con.execute(query).fetchall()[0][0]:
                        broken.append((record.name, field["name"]))
    assert broken == []
