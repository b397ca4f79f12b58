"""What is wrong or missing, most valuable mend first."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

from pipeline.database import open_newest
from pipeline.refresh import corrections
from pipeline.reports.check import TOLD_IN_DETAIL, findings, text
from pipeline.reports.finding import Finding
from tests.refreshed import refreshed

Published = Callable[..., Path]

REJECTED = {
    "file": "inbox/a.csv",
    "sheet": "",
    "record": "hours",
    "code": "date",
    "field": "on_date",
    "text": "31.2.2026",
}
MOVE = {"on_date": date(2026, 3, 1), "layer": "resin", "from_place": "imputed", "to_place": "stock", "estimated": True}


def found(shop: Path) -> list[Finding]:
    with open_newest(shop) as con:
        return findings(con)


def test_a_shop_in_order_has_nothing_to_mend(published: Published) -> None:
    good = {"name": "adds_up", "severity": "error", "rows": 0, "meaning": "It doesn't add up."}
    nothing = found(published(checks__result=[good]))
    assert nothing == []
    assert list(text(nothing, 2)) == ["Nothing found to mend, in what was looked at."]


def test_every_kind_of_finding_stands_in_its_order(published: Published) -> None:
    shop = published(
        checks__result=[
            {"name": "late", "severity": "warning", "rows": 4, "meaning": "Late receipts.", "example": "{}"}
        ],
        intake__file=[
            {"file": "inbox/broken.xlsx", "sheet": "", "how": "unreadable", "rows": 0, "message": "It is cut short."},
            {"file": "inbox/odd.csv", "sheet": "", "how": "unmapped", "rows": 30, "message": ""},
            {"file": "inbox/fine.csv", "sheet": "", "how": "canonical", "rows": 30, "message": None},
        ],
        intake__rejected=[REJECTED | {"row": 9}, REJECTED | {"row": 7, "text": "soon"}],
        cost__movement=[
            MOVE | {"item": "epoxy", "row_id": 1, "cents": 900},
            MOVE | {"item": "oil", "row_id": 2, "cents": 2000, "layer": "finish"},
            MOVE
            | {"from_place": "imputed", "to_place": "piece", "operation": "sanding", "piece": "T-1", "cents": 1500},
        ],
        intake__unknown_word=[
            {"vocabulary": "species", "word": "wallnut", "nearest": "walnut", "rows": 3, "file": "inbox/a.csv"}
        ],
        intake__unlinked=[{"row_id": 1, "record": "hours", "field": "pieces", "tag": "T-9"}] * 2,
        intake__row=[{"row_id": 1, "record": "hours", "file": "inbox/h.csv", "sheet": "", "row": 5}],
    )
    told = [(f.severity, f.kind, f.rows, f.cents) for f in found(shop)]
    assert told == [
        ("error", "set aside: date", 2, None),
        ("error", "unreadable", 1, None),
        ("warning", "missing receipt", 1, 2000),
        ("warning", "estimated", 1, 1500),
        ("warning", "missing receipt", 1, 900),
        ("warning", "unmapped", 30, None),
        ("warning", "late", 4, None),
        ("warning", "unknown word", 3, None),
        ("warning", "unlinked", 2, None),
    ]


def test_the_text_says_what_where_and_what_to_do(published: Published) -> None:
    shop = published(
        intake__rejected=[REJECTED | {"row": 9}], cost__movement=[MOVE | {"item": "epoxy", "row_id": 1, "cents": 900}]
    )
    assert list(text(found(shop), 2)) == [
        "1 error, 1 warning",
        "error    Not a date (1)",
        "         inbox/a.csv, row 9: 31.2.2026",
        "         → Write the date as 2026-05-31.",
        "warning  More epoxy used than bought (1, 9.00 rests on it)",
        "         → Find the receipt for epoxy from before 2026-03-01, or count what is still there.",
        "To mend rows set aside without touching their files: kerfledger check DIR --set-aside mended.csv",
    ]


def test_a_tag_that_leads_nowhere_is_told_once_for_all_its_records(published: Published) -> None:
    lost = {"tag": "T-9", "row_id": 1}
    shop = published(
        intake__unlinked=[
            lost | {"record": "hours", "field": "pieces"},
            lost | {"record": "hours", "field": "pieces", "row_id": 2},
            lost | {"record": "sales", "field": "piece", "row_id": 3},
            lost | {"record": "sales", "field": "lot", "row_id": 3},
        ],
        intake__row=[{"row_id": 1, "record": "hours", "file": "inbox/h.csv", "sheet": "", "row": 5}],
    )
    assert [(f.what, f.rows, f.where) for f in found(shop)] == [
        ("No piece has the tag T-9, which hours, sales name", 3, "first in inbox/h.csv, row 5"),
        ("No lot has the tag T-9, which sales name", 1, "first in ?"),
    ]


def test_checks_that_are_told_in_detail_are_not_told_twice(published: Published) -> None:
    known = {path.stem for path in (Path(__file__).parents[2] / "sql" / "checks").glob("*.sql")}
    assert known >= TOLD_IN_DETAIL
    results = [{"name": n, "severity": "warning", "rows": 3, "meaning": "Told."} for n in ("row_set_aside", "late")]
    assert [f.kind for f in found(published(checks__result=results))] == ["late"]


def test_a_check_shows_a_row_to_be_read(published: Published) -> None:
    result = {
        "name": "late",
        "severity": "warning",
        "rows": 3,
        "meaning": "Late.",
        "example": '{"row_id":7,"piece":"T-1","n":null,"worth_cents":-1250,"mix_share":0.8749,"month":"2026-03-01"}',
    }
    stands = {"row_id": 7, "file": "inbox/till.csv", "sheet": "", "row": 9}
    told = "such as piece T-1, worth -12.50, mix 87 %, month 2026-03, inbox/till.csv, row 9"
    assert [f.where for f in found(published(checks__result=[result], intake__row=[stands]))] == [told]


def test_the_text_shows_a_few_of_each_kind(published: Published) -> None:
    words = [{"vocabulary": "species", "word": f"wood{n}", "rows": n, "file": "a.csv"} for n in range(1, 10)]
    lines = list(text(found(published(intake__unknown_word=words)), 2))
    assert lines[0] == "0 errors, 9 warnings"
    assert sum("Not a known species" in line for line in lines) == 6
    assert "Not a known species: wood9 (9)" in lines[1]
    assert lines[-1] == "and 3 more of the kind: unknown word (--json lists them all)"


def test_a_table_that_nobody_maps_comes_with_what_is_open_and_the_command(published: Published) -> None:
    odd = {"file": "inbox/odd list.csv", "sheet": "", "how": "unmapped", "rows": 30, "message": "It could be a or b."}
    with open_newest(published(intake__file=[odd])) as con:
        (one,) = findings(con, "my-shop")
    assert one.what == "A file whose columns are still to be settled"
    assert one.where == "inbox/odd list.csv: It could be a or b."
    assert one.mend == "Settle it with: kerfledger map my-shop 'inbox/odd list.csv'"


def test_rows_set_aside_come_with_the_command_that_writes_them_out(published: Published) -> None:
    shop = published(intake__rejected=[REJECTED | {"row": 9}])
    lines = list(text(found(shop), 2, "my-shop"))
    assert (
        lines[-1]
        == "To mend rows set aside without touching their files: kerfledger check my-shop --set-aside mended.csv"
    )
    assert not any("--set-aside" in line for line in text([], 2, "my-shop"))


def test_a_mend_that_stands_for_no_row_is_told_unless_it_was_mended_again(published: Published) -> None:
    lost = {"file": "mends/a.csv", "sheet": "", "row": 4, "text": None}
    shop = published(
        intake__ignored=[
            lost | {"reason": corrections.GONE},
            lost | {"reason": corrections.AGAIN},
            lost | {"reason": "header"},
        ]
    )
    assert [(f.kind, f.what, f.where) for f in found(shop)] == [
        ("mend not used", "A mended row is not used: its row is gone", "mends/a.csv, row 4")
    ]


def test_a_section_of_words_that_no_field_has_is_a_finding_and_the_refresh_goes_on(tiny_shop: Path) -> None:
    path = tiny_shop / "shop.toml"
    path.write_text(path.read_text() + '\n[words.knid]\n"x" = "refund"\n')
    refreshed(tiny_shop)
    (vain,) = [f for f in found(tiny_shop) if f.kind == "words taught in vain"]
    assert vain.severity == "warning" and "line 10" in vain.where and "[words.knid]" in vain.where
