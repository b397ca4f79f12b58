"""Tags, lists of them, and runs."""

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests_shop import about_of

from pipeline.cleaning import tags
from pipeline.cleaning.parsed import Kind, UnreadableError, parse
from pipeline.errors import FAULTS

PREFIX = st.from_regex(r"\A[A-Z]{1,4}-?\Z")


def several(text: str) -> object:
    try:
        return tags.tag_list(text)
    except UnreadableError as fault:
        return fault.code


def single(text: str, field: str = "sales.piece") -> object:
    row = tags.tags(pl.Series([text]), about_of(field)).row(0, named=True)
    return row["code"] or row["value"]


@given(
    PREFIX,
    st.lists(st.integers(0, 999), min_size=1, max_size=8, unique=True),
    st.sampled_from(["; ", ";", ", ", ",", "/", " + ", " & ", " ", "\n", " and "]),
    st.booleans(),
)
def test_lists(prefix: str, numbers: list[int], mark: str, lower: bool) -> None:
    expected = [f"{prefix}{n:03}" for n in numbers]
    text = mark.join(expected)
    assert several(text.lower() if lower else text) == expected


@given(
    PREFIX,
    st.integers(0, 900),
    st.integers(0, 99),
    st.sampled_from(
        ["{a}..{b}", "{a} .. {b}", "{a}…{b}", "{a}–{b}", "{a} - {b}", "{a} to {b}", "{a}–{n}", "{a}..{n}", "{a} - {n}"]
    ),
)
def test_runs(prefix: str, start: int, more: int, form: str) -> None:
    text = form.format(a=f"{prefix}{start:03}", b=f"{prefix}{start + more:03}", n=f"{start + more:03}")
    assert several(text) == [f"{prefix}{n:03}" for n in range(start, start + more + 1)]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("T-031, T-032 & T-033", ["T-031", "T-032", "T-033"]),
        ("T-031, 032, 033", ["T-031", "T-032", "T-033"]),
        ("t-031;T-031", ["T-031"]),
        ("T-031..T-033; T-040", ["T-031", "T-032", "T-033", "T-040"]),
        ("T-031..33", ["T-031", "T-032", "T-033"]),
        ("7; 8", ["7", "8"]),
        ("T-031-034", ["T-031-034"]),  # hyphens are part of tags; a run takes two points or spaces
        ("T 031", ["T031"]),
    ],
)
def test_as_people_write_them(text: str, expected: list[str]) -> None:
    assert several(text) == expected


@pytest.mark.parametrize(
    "text",
    ["T-034..T-031", "T-1..T-501", "T-001..B-004", "A..B", ";", "T-031, 4", "x" * 70, "???", "T-1..T-400; B-1..B-400"],
)
def test_what_is_no_list(text: str) -> None:
    assert several(text) == "tag"


@pytest.mark.parametrize(
    ("text", "tag"), [(" t-031 ", "T-031"), ("T 031", "T031"), ("t‑031", "T-031"), ("2026/041", "2026/041")]
)
def test_one_tag(text: str, tag: str) -> None:
    assert single(text) == tag


@pytest.mark.parametrize("text", ["T-031; T-032", "T-031, T-032", "T-031 T-032", "T-031..T-033", "!!", "x" * 70])
def test_one_tag_is_one(text: str) -> None:
    assert single(text) == "tag"


def test_an_event_may_have_a_name() -> None:
    assert single("Harbour Fair, spring & summer", "sales.event") == "HARBOURFAIR,SPRING&SUMMER"


@given(
    st.lists(
        st.from_regex(r"\A[A-Za-z]{1,3}-?[0-9]{1,3}( ?[;,/+&] ?[A-Za-z]{1,3}-?[0-9]{1,3}){0,3}\Z"),
        min_size=1,
        unique=True,
    )
)
def test_the_sweep_reads_what_the_reader_reads(texts: list[str]) -> None:
    column, about = pl.Series(texts), about_of("hours.pieces")
    swept = parse(column, Kind(tags.tag_lists, tags.easy_list), about)["value"].to_list()
    assert swept == parse(column, Kind(tags.tag_lists), about)["value"].to_list()


@given(st.lists(st.from_regex(r"\A[A-Za-z0-9][A-Za-z0-9_-]{0,20}\Z"), min_size=1, unique=True))
def test_the_sweep_reads_single_tags_alike(texts: list[str]) -> None:
    column = pl.Series(texts)
    for field, reader, easy in (
        ("sales.piece", tags.tags, tags.easy_tag),
        ("hours.pieces", tags.tag_lists, tags.easy_list),
    ):
        swept = parse(column, Kind(reader, easy), about_of(field))["value"].to_list()
        assert swept == parse(column, Kind(reader), about_of(field))["value"].to_list()


@given(st.lists(st.text(max_size=40), max_size=25, unique=True))
def test_junk_is_set_aside_with_a_reason(texts: list[str]) -> None:
    for reader, field in ((tags.tags, "sales.piece"), (tags.tag_lists, "hours.pieces")):
        frame = reader(pl.Series(texts, dtype=pl.String), about_of(field))
        assert frame.height == len(texts)
        assert frame.filter(pl.col("value").is_null() == pl.col("code").is_null()).is_empty()
        assert set(frame["code"].drop_nulls()) <= set(FAULTS)


@pytest.mark.parametrize(
    ("tag", "meant"),
    [
        ("0396", ["P-0396"]),
        ("396", ["P-0396"]),
        ("p0396", ["P-0396"]),
        ("P 0012", ["P-0012"]),
        ("12", ["P-0012", "T-12"]),
        ("Q-0396", []),
        ("0397", []),
        ("tray", []),
    ],
)
def test_another_spelling_leads_to_the_known_tag(tag: str, meant: list[str]) -> None:
    assert tags.alike(tag, ["P-0396", "P-0012", "T-12"]) == meant
