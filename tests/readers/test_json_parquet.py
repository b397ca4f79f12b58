import datetime as dt
import json
from pathlib import Path

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.errors import UserError
from pipeline.readers import read
from pipeline.readers.json_parquet import read_json


def written(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


def test_a_list_of_objects(tmp_path: Path):
    first = '{"day": "2026-05-01", "n": 1.50, "paid": true}'
    text = f'[{first}, {{"n": 12345678901234567890, "more": {{"a": [1, 2.0, null]}}}}, 3]'
    (table,) = read(written(tmp_path / "a.json", text))
    assert table.names == ("day", "n", "paid", "more")
    assert table.frame.rows() == [
        ("2026-05-01", "1.50", "true", None, 1),
        (None, "12345678901234567890", None, '{"a": [1, 2.0, null]}', 2),
    ]
    assert table.ignored.rows() == [(3, "no object", "3")]


def test_one_object_a_line(tmp_path: Path):
    (table,) = read(written(tmp_path / "a.jsonl", '{"a": "é"}\n\n{"b": 2}\n'))
    assert (table.names, table.frame.rows()) == (("a", "b"), [("é", None, 1), (None, "2", 3)])


def test_lists_inside_an_object_are_tables(tmp_path: Path):
    first, second = read(written(tmp_path / "a.json", '{"sales": [{"n": 1}], "pieces": [{"tag": "T-1"}], "made": 1}'))
    assert [(t.sheet, t.names) for t in (first, second)] == [("sales", ("n",)), ("pieces", ("tag",))]


@pytest.mark.parametrize("text", ["", "  \n", "[]"])
def test_nothing_in_it(tmp_path: Path, text: str):
    (table,) = read(written(tmp_path / "a.json", text))
    assert (table.names, table.frame.height) == ((), 0)


@pytest.mark.parametrize(
    "text", ['[{"a": 1]', "hello", "3", '{"a": 1}\n{"a": ', "[" * 100_000, '[{"a": ' + "[" * 60 + "]" * 60 + "}]"]
)
def test_no_table_in_it_or_nested_too_deep(tmp_path: Path, text: str):
    with pytest.raises(UserError):
        read(written(tmp_path / "a.json", text))


@settings(max_examples=50, deadline=None)
@given(
    st.lists(
        st.dictionaries(st.text(min_size=1, max_size=5), st.text(min_size=1, max_size=9), min_size=1),
        min_size=1,
        max_size=5,
    )
)
def test_texts_come_back(tmp_path_factory, objects):
    path = tmp_path_factory.mktemp("json") / "a.json"
    (table,) = read_json(written(path, json.dumps(objects)))
    back = [
        {n: c for n, c in zip(table.names, row, strict=True) if c is not None} for row in table.frame.drop("row").rows()
    ]
    assert back == objects


def test_parquet(tmp_path: Path):
    frame = pl.DataFrame(
        {
            "day": [dt.date(2026, 5, 31)],
            "moment": [dt.datetime(2026, 5, 31, 14, 30)],
            "midnight": [dt.datetime(2026, 5, 31)],
            "time": [dt.time(14, 30)],
            "length": [dt.timedelta(hours=30, minutes=15)],
            "fraction": [0.1 + 0.2],
            "price": pl.Series([1.5], dtype=pl.Decimal(10, 2)),
            "list": [["T-1", "T-2"]],
            "word": ["x"],
            "none": pl.Series([""], dtype=pl.String),
        }
    )
    frame.write_parquet(tmp_path / "a.parquet")
    (table,) = read(tmp_path / "a.parquet")
    assert table.names == tuple(frame.columns)
    assert table.frame.rows() == [
        (
            "2026-05-31",
            "2026-05-31 14:30:00",
            "2026-05-31",
            "14:30:00",
            "30:15:00",
            "0.30000000000000004",
            "1.50",
            '["T-1", "T-2"]',
            "x",
            None,
            1,
        )
    ]


def test_what_is_no_parquet_is_refused(tmp_path: Path):
    with pytest.raises(UserError, match="Parquet"):
        read(written(tmp_path / "a.parquet", "day,n\n"))
