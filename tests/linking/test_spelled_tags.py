"""Tags written otherwise than on record. How people write them: common practice, no source."""

from collections.abc import Callable

import duckdb
import pytest

from pipeline.linking.spelled_tags import OnRecord

SLASHED = [f"SM/0{n}" for n in range(41, 49)]
DASHED = [f"HF-{n:02d}" for n in range(1, 12)]
YEARS = ["25-01", "25-02", "25-04", "25-07"]


@pytest.mark.parametrize(
    ("known", "tag", "same", "likely"),
    [
        (DASHED, "HF2", "HF-02", ""),
        (DASHED, "HF04", "HF-04", ""),
        (SLASHED, "SM-042", "SM/042", ""),
        (SLASHED, "SM46", "SM/046", ""),
        (SLASHED, "042", "", "SM/042"),
        (SLASHED, "42", "", "SM/042"),
        (SLASHED, "SM/043TRAY", "", "SM/043"),
        (SLASHED, "YEWBOWL041", "", "SM/041"),
        (YEARS, "MESSERGRIFF25-04", "", "25-04"),
        (DASHED, "BOARD(2)", "", ""),  # two boards, and no HF-02
        (DASHED, "SPOON5", "", ""),
        (DASHED, "HF-99", "", ""),
        (["T-1", "T-2", "U-2"], "2", "", ""),  # which of the two
        (["A-10", "A-110"], "110", "", "A-110"),
        (["P-0401", "P-0402"], "X-9", "", ""),
        (DASHED, "WALNUT", "", ""),
        (["W25-001", "W25-014"], "014", "", "W25-014"),  # the year is left out
        (YEARS, "4", "", "25-04"),
        (["W24-014", "W25-014"], "014", "", ""),  # which year's
        (["W25-001", "W25-014"], "25", "", ""),
    ],
)
def test_a_tag_is_the_only_one_on_record_that_it_can_mean(known: list[str], tag: str, same: str, likely: str) -> None:
    on_record = OnRecord(known)
    found = on_record.same(tag)
    assert (found, "" if found else on_record.likely(tag)) == (same, likely)


SHOP = 'currency = "EUR"\nname = "A"\nstart = 2026-01-01\n[[people]]\nname = "Ada"\nrate = 30\n'


def test_work_and_sales_find_their_piece_and_likely_ones_are_told(
    books: Callable[..., duckdb.DuckDBPyConnection],
) -> None:
    con = books(
        SHOP,
        pieces="piece,product,started,finished\nSM/041,bowl,2026-01-05,2026-01-08\nSM/042,lamp,2026-01-05,2026-01-09\n",
        hours="date,operation,pieces,hours\n2026-01-06,turning,sm-041,1\n2026-01-07,sanding,42,2\n"
        "2026-01-08,finishing,SM41; SM/042,1\n2026-01-08,finishing,SM/077,1\n",
        sales="date,channel,piece,price\n2026-01-20,market,Yew bowl 041,90\n",
    )
    linked = "select operation, piece from records.hours join records.hours_piece using (row_id) order by all"
    assert con.execute(linked).fetchall() == [
        ("finishing", "SM/041"), ("finishing", "SM/042"), ("sanding", "SM/042"), ("turning", "SM/041"),
    ]  # fmt: skip
    assert con.execute("select piece from records.sales").fetchall() == [("SM/041",)]
    taken = "select word, taken from intake.likely_word where vocabulary = 'tag' order by word"
    assert con.execute(taken).fetchall() == [("42", "SM/042"), ("YEWBOWL041", "SM/041")]
    assert con.execute("select tag from intake.unlinked").fetchall() == [("SM/077",)]
