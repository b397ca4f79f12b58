"""A refresh from files to a published database, over a tiny pile."""

import os
import random
import shutil
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from pipeline import database, tables
from pipeline.asking.gather import OF_ALL
from pipeline.refresh import refresh
from pipeline.reports.refreshed import text
from pipeline.shop import load
from tests.refreshed import led_to

HOURS = "date,person,operation,hours,pieces\n2026-02-01,Ada,sanding,1:30,T-1\n2026-02-30,Ada,sanding,1:00,T-1\n"
PIECES = (
    "piece,product,species,status\nT-1,tray,walnut,in progress\nT-2,tray,ash,in progress\nT-2,bowl,ash,in progress\n"
)


@pytest.fixture
def shop(tiny_shop: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The tiny shop with a few files, no checks, and no models to run but those that questions need."""
    inbox = tiny_shop / "inbox"
    (inbox / "hours.csv").write_text(HOURS, encoding="utf-8")
    (inbox / "deep").mkdir()
    (inbox / "deep" / "pieces.csv").write_text(PIECES, encoding="utf-8")
    monkeypatch.setattr(refresh, "read_plan", lambda: replace(led_to(OF_ALL), checks=()))
    return tiny_shop


def run(folder: Path) -> refresh.Summary:
    return refresh.refresh(load(folder))


def rows(folder: Path, query: str) -> list[tuple[object, ...]]:
    with database.open_newest(folder) as con:
        return con.execute(query).fetchall()


def test_every_row_is_accounted_for(shop: Path) -> None:
    summary = run(shop)
    files = rows(
        shop, "select file, record, how, rows, loaded, duplicate, set_aside, ignored from intake.file order by file"
    )
    assert files == [
        # the header row is listed as one that is no record; T-2 was used twice
        ("inbox/deep/pieces.csv", "pieces", "canonical", 4, 1, 0, 2, 1),
        ("inbox/hours.csv", "hours", "canonical", 3, 1, 0, 1, 1),
    ]
    assert summary.counts | {"rows": 7, "loaded": 2, "set_aside": 3, "ignored": 2, "files": 2} == summary.counts
    assert set(summary.seconds) == {"read and clean", "link", "load", "models", "checks", "publish"}
    assert summary.published == database.newest(shop)


def test_each_row_knows_its_place(shop: Path) -> None:
    run(shop)
    query = "select file, row from records.hours join intake.row using (row_id)"
    assert rows(shop, query) == [("inbox/hours.csv", 2)]
    assert rows(shop, "select file, sheet, row from records.hours_piece join intake.row using (row_id)") == [
        ("inbox/hours.csv", "", 2)
    ]
    rate = "select file, sheet, row, rate_cents from settings.person_rate join intake.row using (row_id)"
    assert rows(shop, rate) == [("shop.toml", "people", 1, 3000)]


def test_a_file_that_cannot_be_read_is_listed_and_the_others_go_on(shop: Path) -> None:
    (shop / "inbox" / "broken.xlsx").write_bytes(b"PK\x03\x04 cut short")
    (shop / "inbox" / "photo.jpeg").write_bytes(b"\xff\xd8")
    (shop / "inbox" / ".DS_Store").write_bytes(b"\x00")
    summary = run(shop)
    listed = rows(shop, "select file, how, message is null from intake.file where rows = 0 order by file")
    assert listed == [("inbox/broken.xlsx", "unreadable", False), ("inbox/photo.jpeg", "ignored", False)]
    assert (summary.counts["unreadable"], summary.counts["loaded"]) == (1, 2)
    assert "1 file can't be read" in list(text(summary))


def test_a_table_that_no_mapping_knows_loses_no_row(shop: Path) -> None:
    (shop / "inbox" / "odd.csv").write_text("colour,mood\nblue,7.50\nred,9.25\n", encoding="utf-8")
    summary = run(shop)
    assert summary.counts["unmapped"] == 1
    odd = "select how, rows, ignored from intake.file where file = 'inbox/odd.csv'"
    assert rows(shop, odd) == [("unmapped", 3, 3)]
    # as the Files page counts: what nobody has settled is apart from titles and blank rows
    said = list(text(summary, "my-shop"))
    assert "          2  still to be settled, in 1 file" in said
    assert f"  {summary.counts['ignored'] - 2:>9,}  no records (titles, totals, blank rows)" in said
    assert "    settle it with: kerfledger map my-shop inbox/odd.csv" in said
    kept = "select row, reason, text from intake.ignored where reason = 'no mapping' order by row"
    assert rows(shop, kept) == [(2, "no mapping", "blue | 7.50"), (3, "no mapping", "red | 9.25")]


@pytest.mark.skipif(os.name == "nt", reason="making a symbolic link needs a privilege there")
def test_a_link_that_leads_out_of_the_shop_is_not_followed(shop: Path, tmp_path: Path) -> None:
    secret = tmp_path / "secret.csv"
    secret.write_text(HOURS, encoding="utf-8")
    (shop / "inbox" / "link.csv").symlink_to(secret)
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "hours.csv").write_text(HOURS, encoding="utf-8")
    (shop / "inbox" / "folder").symlink_to(outside)
    (shop / "inbox" / "again.csv").symlink_to(shop / "inbox" / "hours.csv")
    run(shop)
    assert rows(shop, "select how, message from intake.file where file = 'inbox/link.csv'") == [
        ("ignored", "It leads to a file outside of the shop folder.")
    ]
    assert rows(shop, "select distinct file from intake.row where file like 'inbox/%' order by file") == [
        ("inbox/again.csv",),
        ("inbox/deep/pieces.csv",),
        ("inbox/hours.csv",),
    ]


def test_the_log_and_the_mends_are_read_too(shop: Path) -> None:
    (shop / "log").mkdir()
    (shop / "log" / "hours-2026-02-03.csv").write_text(HOURS.replace("02-01", "02-03"), encoding="utf-8")
    (shop / "mends").mkdir()
    (shop / "mends" / "hours.csv").write_text(HOURS.replace("02-30", "02-28"), encoding="utf-8")
    run(shop)
    days = rows(shop, "select on_date::varchar from records.hours order by all")
    assert days == [("2026-02-01",), ("2026-02-01",), ("2026-02-03",), ("2026-02-28",)]


def test_the_files_stay_as_they_are(shop: Path) -> None:
    before = {path: (path.read_bytes(), path.stat().st_mtime_ns) for path in shop.rglob("*.csv")}
    run(shop)
    assert {path: (path.read_bytes(), path.stat().st_mtime_ns) for path in shop.rglob("*.csv")} == before


def test_what_killed_writes_left_half_done_is_swept_and_nothing_else(shop: Path) -> None:
    ours, fresh = f".{'0a' * 16}.part", f".{'0b' * 16}.part"
    kept = [fresh, f"{'0a' * 16}.part", f".{'0A' * 16}.part", f".{'0a' * 15}.part", f".{'0a' * 16}.part.old", ".part"]
    homes = [shop / name for name in ("", "inbox/deep", "mappings", "mends", "quotes", "reports/closed", ".settings")]
    an_hour_ago = time.time() - 3601
    for home in homes:
        home.mkdir(parents=True, exist_ok=True)
        for name in (ours, *kept):
            (home / name).write_text("half of", encoding="utf-8")
            os.utime(home / name, None if name == fresh else (an_hour_ago, an_hour_ago))
    run(shop)
    for home in homes:
        assert {path.name for path in home.glob("*.part*")} == {*kept}, home


def test_rebuilt_from_the_files_it_is_the_same(shop: Path) -> None:
    def everything() -> dict[str, list[tuple[object, ...]]]:
        return {table: rows(shop, f"from {table} order by all") for table in tables.given_tables()}

    run(shop)
    first = everything()
    shutil.rmtree(shop / "database")
    run(shop)
    assert everything() == first


@pytest.mark.parametrize(("severity", "published"), [("error", False), ("warning", True)])
def test_a_failed_check_of_severity_error_stops_publishing(
    shop: Path, monkeypatch: pytest.MonkeyPatch, severity: str, published: bool
) -> None:
    before = run(shop).published
    (shop / "inbox" / "odd.csv").write_text("colour;weather\nred;rain\n", encoding="utf-8")
    result = {"name": "adds_up", "severity": severity, "rows": 1, "meaning": "It doesn't.", "example": "{}"}
    monkeypatch.setattr(refresh, "run_checks", lambda *_: [result])
    summary = run(shop)
    assert bool(summary.published) is published
    assert (database.newest(shop) == before) is not published
    assert bool(summary.errors) is not published


REFRESH = "import sys; from pipeline.commands import main; sys.exit(main(['refresh', sys.argv[1], '--all']))"


def test_two_refreshes_at_once_each_publish(tiny_shop: Path) -> None:
    (tiny_shop / "inbox" / "hours.csv").write_text(HOURS, encoding="utf-8")
    both = [subprocess.Popen([sys.executable, "-c", REFRESH, str(tiny_shop)]) for _ in range(2)]
    assert [process.wait() for process in both] == [0, 0]
    assert sorted(p.name for p in (tiny_shop / "database").glob("shop-*")) == [
        "shop-000001.duckdb",
        "shop-000002.duckdb",
    ]


REFRESHES = """
import sys
from dataclasses import replace
from pathlib import Path
from pipeline.refresh.refresh import refresh
from pipeline.shop import load
from tests.refreshed import led_to
shop = load(Path(sys.argv[1]))
print("begun", flush=True)
while True:
    refresh(shop, anew=True)
"""


def test_killed_in_the_middle_a_refresh_leaves_the_last_database(tiny_shop: Path) -> None:
    (tiny_shop / "inbox" / "hours.csv").write_text(HOURS, encoding="utf-8")
    run(tiny_shop)
    moments = random.Random(20260601)
    interrupted = 0
    for _ in range(3):
        with subprocess.Popen([sys.executable, "-c", REFRESHES, str(tiny_shop)], stdout=subprocess.PIPE) as process:
            assert process.stdout is not None
            process.stdout.readline()
            while not any((tiny_shop / "database").glob("*.draft")):
                time.sleep(0.01)
            time.sleep(moments.uniform(0.0, 0.5))
            process.kill()
        interrupted += any((tiny_shop / "database").glob("*.draft"))
        assert rows(tiny_shop, "select count(*) from records.hours") == [(1,)]
    assert interrupted, "no kill came while a draft was being built, so nothing was tried"
    assert run(tiny_shop).published == database.newest(tiny_shop)
    assert not [*(tiny_shop / "database").glob("*.draft*")]
