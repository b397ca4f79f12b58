from pathlib import Path

import pollutions
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pollutions import Polluted, clean_table, text_of
from scoring import read_back

from pipeline.readers import read
from pipeline.readers.csv import tables_in

TABLE = clean_table()
EASY = [way for way in pollutions.WAYS if way not in (pollutions.rows, pollutions.other_delimiter)]


def wrong(polluted: list[Polluted]) -> list[str]:
    """The names of the files of which not each cell came back in its place."""
    assert polluted
    return [f"{p.group}: {p.name}" for p in polluted if read_back(p.data) != (p.header, p.records)]


@pytest.mark.parametrize("way", EASY, ids=lambda way: way.__name__)
def test_every_cell_comes_back(way):
    assert wrong(list(way(TABLE))) == []


@pytest.mark.parametrize("place", [0, 1, 19, 40])
def test_a_mark_too_many_or_too_few_in_a_row(place):
    assert wrong(list(pollutions.rows(TABLE, [place]))[:: 1 if place == 19 else 3]) == []


@pytest.mark.parametrize("place", [0, 1, 19, 40])
def test_a_row_with_a_delimiter_of_its_own(place):
    assert wrong(list(pollutions.other_delimiter(TABLE, [place]))) == []


@pytest.mark.parametrize("name", ["words", "narrow", "receipts"])
def test_tables_of_other_shapes(name):
    table = pollutions.other_tables()[name]
    assert wrong([*pollutions.marks(table), *pollutions.lines(table)]) == []


# RFC 4180, section 2, rules 1, 2, 5, 6 and 7: each rule's own example, quoted from memory of the RFC. Whether the first
# of two rows of words is a header, the RFC leaves to the media type, so both are compared together.
@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),
        ("aaa,bbb,ccc\r\nzzz,yyy,xxx", [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),
        ('"aaa","bbb","ccc"\r\nzzz,yyy,xxx', [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),
        ('"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx', [["aaa", "b\r\nbb", "ccc"], ["zzz", "yyy", "xxx"]]),
        ('"aaa","b""bb","ccc"', [["aaa", 'b"bb', "ccc"]]),
    ],
)
def test_rfc_4180(text, rows):
    header, records = read_back(text.encode())
    assert [*header, *records] == rows


def test_row_numbers_are_those_of_the_lines():
    (table,) = tables_in(b'Sales of May\n\nday,what,n\n2026-05-01,"two\nlines",1\n\n2026-05-02,one,2\nTotal,,3\n')
    assert table.names == ("day", "what", "n")
    assert table.frame.rows() == [("2026-05-01", "two\nlines", "1", 4), ("2026-05-02", "one", "2", 7)]
    assert table.ignored.rows() == [
        (1, "title", "Sales of May"),
        (2, "blank", ""),
        (3, "header", "day | what | n"),
        (6, "blank", ""),
        (8, "total", "Total | 3"),
    ]


def test_a_total_in_the_middle_and_a_row_named_total_stay():
    (table,) = tables_in(b"day,what,n\n2026-05-01,oak,1\nTotal,,1\n2026-05-02,ash,2\n2026-05-03,total loss,2\n")
    assert table.frame["c0"].to_list() == ["2026-05-01", "Total", "2026-05-02", "2026-05-03"]


def test_ragged_rows_keep_their_cells():
    (table,) = tables_in(b"day,what,n\n2026-05-01,oak,1\n2026-05-02,ash\n2026-05-03,elm,3,more\n2026-05-04,fir,4\n")
    assert table.names == ("day", "what", "n", "")
    assert table.frame.select("c0", "c1", "c2", "c3").rows()[1:3] == [
        ("2026-05-02", "ash", None, None),
        ("2026-05-03", "elm", "3", "more"),
    ]
    assert table.dialect["ragged"] == {3: 2, 4: 4}


def test_header_of_several_rows_is_joined():
    (table,) = tables_in(
        b"tag,size,,made\n,length,width,\nT-1,300,200,2026-01-05\nT-2,310,190,2026-01-06\nT-3,1,2,2026-01-07\n"
    )
    assert table.names == ("tag", "size length", "size width", "made")
    assert table.frame.height == 3


def test_several_tables_have_names_of_their_own():
    first, second = tables_in(
        b"day,n\n2026-05-01,1\n2026-05-02,2\n\nname,rate,from\nada,30,2026-01-01\nbo,28,2026-02-01\n"
    )
    assert (first.sheet, first.names, first.frame.height) == ("", ("day", "n"), 2)
    assert (second.sheet, second.names, second.frame["row"].to_list()) == ("table 2", ("name", "rate", "from"), [6, 7])


def test_nothing_vanishes():
    for polluted in [*pollutions.around(TABLE), *pollutions.several(TABLE)]:
        lines = polluted.data.decode().split("\r\n")
        tables = tables_in(polluted.data)
        rows = [n for table in tables for n in (*table.frame["row"].to_list(), *table.ignored["row"].to_list())]
        assert len(set(rows)) == len(rows), polluted.name
        # a note with two line breaks inside takes up three lines
        assert len(rows) == len(lines) - 1 + (lines[-1] != ""), polluted.name


def test_all_zero_bytes_go_and_are_counted():
    (table,) = tables_in(b"a,b\n1,x\0\n2,y\n" + b"\0" * 20)
    assert table.frame["c1"].to_list() == ["x", "y"]
    assert table.dialect["nul_bytes"] == 21


@pytest.mark.parametrize("suffix", [".csv", ".tsv", ".txt"])
def test_files_by_suffix(tmp_path: Path, suffix: str):
    path = tmp_path / f"sales{suffix}"
    path.write_text("day\tn\n2026-05-01\t1\n2026-05-02\t2\n")
    (table,) = read(path)
    assert (table.names, table.frame.height, table.dialect["delimiter"]) == (("day", "n"), 2, "\t")


WORDS = st.text(alphabet=st.sampled_from("abcdefgh ÄÖß€0123456789,;\"'\n-./:"), max_size=12).map(str.strip)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    cells=st.lists(st.lists(WORDS, min_size=2, max_size=2), min_size=4, max_size=9),
    end=st.sampled_from(["\n", "\r\n"]),
)
def test_any_words_beside_a_date_and_an_amount_come_back(cells, end):
    header = [["day", "first", "second", "amount"]]
    body = [[f"2026-05-{i + 1:02d}", *row, f"{i}.50"] for i, row in enumerate(cells)]
    assert read_back(text_of([*header, *body], end).encode()) == (header, body)


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=200))
def test_no_bytes_are_too_odd(data):
    tables = tables_in(data)
    assert tables
    for table in tables:
        assert table.frame.columns[-1] == "row"
        assert len(table.names) in (0, len(table.columns))
