"""A log in which a column says which record each row is. How makers word it: common practice, no source."""

from pathlib import Path

import polars as pl

from pipeline.asking.answer import answer
from pipeline.database.open_database import opened
from pipeline.proposing import proposal, several_records
from pipeline.readers import read
from pipeline.shop import load
from tests.refreshed import refreshed

LOG = """Date,Kind,Piece,What,Qty,Unit,Paid,Notes
2026-03-02,Bought,,oak board,2,each,30.00,
2026-03-02,stall fee,,spring fair,,,45.00,
2026-03-02,hrs,T-1,sanding,2.5,,,
2026-03-03,hours,T-1,finishing,0.5,,,
2026-03-03,used,T-1,sanding disc,5,each,,
2026-03-04,hrs,T-2,sanding,1,,,
2026-03-04,dud,T-1,bubbles,,,,
2026-03-05,note,,,,,,buy more discs
2026-03-05,used,T-2,sanding disc,3,each,,
2026-03-06,bought,,oak board,1,each,16.00,
2026-03-07,hrs,T-2,finishing,60,min,,redo
2026-03-08,hrs,T-2,sanding,9:15-10:45,,,
"""
PIECES = "piece,product,started\nT-1,board,2026-03-01\nT-2,board,2026-03-01\n"


def test_rows_of_a_log_are_the_records_that_one_of_its_columns_says(tiny_shop: Path) -> None:
    (tiny_shop / "inbox" / "log 2026-03.csv").write_text(LOG, encoding="utf-8")
    (tiny_shop / "inbox" / "pieces.csv").write_text(PIECES, encoding="utf-8")
    refreshed(tiny_shop)
    with opened(tiny_shop) as con:
        done = "select operation, rework, sum(seconds) from records.hours group by all order by all"
        assert con.execute(done).fetchall() == [
            ("finishing", False, 1800),
            ("finishing", True, 3600),
            ("sanding", False, 18000),
        ]
        bought = con.execute(
            "select item, category, amount_cents from records.purchases order by amount_cents"
        ).fetchall()
        assert bought == [("oak board", "wood", 1600), ("oak board", "wood", 3000), ("spring fair", "selling", 4500)]
        assert con.execute("select count(*), sum(quantity) from records.usage").fetchone() == (2, 8000)
        assert con.execute("select row, reason from intake.ignored where text like '%discs'").fetchall() == [
            (9, "says that it is no record")
        ]
        # each row is in one of the tables that the log became, and keeps its number
        lost = "from intake.file where rows <> loaded + duplicate + set_aside + ignored"
        assert con.execute(lost).fetchall() == []
        told = "select count(*), count(distinct row) from intake.row join intake.file using (file, sheet)"
        assert con.execute(f"{told} where file like '%log%'").fetchone() == (10, 10)
        ((name, ask),) = con.execute("select question, ask from intake.question where ask like '%dud%'").fetchall()
        assert ask == "What is a row whose “Kind” is “dud”?"
        choices = con.execute("select choice, label from intake.question_choice where question = ?", [name]).fetchall()
    answer(tiny_shop, name, next(n for n, label in choices if label.startswith("inspections")))
    assert 'dud = "inspections"' in (tiny_shop / "shop.toml").read_text(encoding="utf-8")
    # the next month's file is told by the same words
    (tiny_shop / "inbox" / "log 2026-04.csv").write_text(LOG.replace("2026-03", "2026-04"), encoding="utf-8")
    refreshed(tiny_shop)
    with opened(tiny_shop) as con:
        found = con.execute("select piece, defect from records.inspections order by on_date").fetchall()
        assert len(found) == 2 and set(found) == {("T-1", found[0][1])}
        assert not con.execute("select ask from intake.question where ask like '%dud%'").fetchall()


def test_what_is_settled_of_one_record_of_a_log_holds_for_the_next_log(tiny_shop: Path) -> None:
    first = tiny_shop / "inbox" / "log 2026-03.csv"
    first.write_text(LOG.replace("Notes", "Zib").replace("finishing,0.5,,,", "finishing,0.5,,,Ada"), encoding="utf-8")
    (used,) = proposal.propose(load(tiny_shop), first, sheet="(hours)")
    assert used.mapping.record == "hours" and used.mapping.columns.get("note") != "Zib"
    (told,) = proposal.propose(load(tiny_shop), first, answers={"person": "Zib"}, sheet="(hours)")
    proposal.save(load(tiny_shop), told)
    second = tiny_shop / "inbox" / "log 2026-04.csv"
    second.write_text(first.read_text(encoding="utf-8").replace("2026-03", "2026-04"), encoding="utf-8")
    by_sheet = {found.sheet: found for found in proposal.propose(load(tiny_shop), second)}
    assert by_sheet["(hours)"].mapping.columns["person"] == "Zib"
    assert by_sheet["(hours)"].how == "mapping file"
    assert by_sheet["(usage)"].how == "suggested"


ONE_RECORD = {
    "receipts": "Date,Type,Item,Lot,Kit,Paid\n"
    + "".join(
        f"2026-03-0{day},{kind},{item},{lot},{kit},{day}0.00\n"
        for day, (kind, item, lot, kit) in enumerate(
            [("wood", "oak board", "L1", ""), ("resin", "clear", "", "2"), ("mix", "clear", "", "1")] * 3, 1
        )
    ),
    "hours": "Date,Work,Piece,Event,Hours\n"
    + "".join(
        f"2026-03-0{day},{kind},{piece},{event},{day}\n"
        for day, (kind, piece, event) in enumerate(
            [("pour", "T-1", ""), ("sanding", "T-1", ""), ("order", "", "fair"), ("sale", "", "fair")] * 2, 1
        )
    ),
    "takings": "Date,Sold by,Piece,Stall,Order,Price\n"
    + "".join(
        f"2026-03-0{day},{kind},T-{day},{stall},{order},{day}0.00\n"
        for day, (kind, stall, order) in enumerate([("sale", "North", ""), ("order", "", "O1")] * 4, 1)
    ),
}


def test_a_column_of_categories_parts_nothing(tiny_shop: Path, tmp_path: Path) -> None:
    for name, text in ONE_RECORD.items():
        path = tmp_path / f"{name}.csv"
        path.write_text(text, encoding="utf-8")
        (table,) = read(path)
        assert several_records.parts(table, load(tiny_shop)) == [table], name
    path = tmp_path / "log.csv"
    path.write_text(LOG, encoding="utf-8")
    (table,) = read(path)
    found = {part.sheet: part for part in several_records.parts(table, load(tiny_shop))}
    assert {*found} == {"(purchases)", "(hours)", "(usage)", "(dud)", "(no record)"}
    rows = pl.concat([part.frame.select("row") for part in found.values()])["row"].sort()
    assert rows.to_list() == table.frame["row"].to_list()


def test_a_mapping_for_the_whole_log_leaves_it_whole(tiny_shop: Path) -> None:
    (tiny_shop / "mappings").mkdir()
    (tiny_shop / "mappings" / "log.toml").write_text('files = "log*.csv"\nrecord = ""\n', encoding="utf-8")
    path = tiny_shop / "inbox" / "log 2026-03.csv"
    path.write_text(LOG, encoding="utf-8")
    (found,) = proposal.propose(load(tiny_shop), path)
    assert (found.sheet, found.mapping.record) == ("", "")
