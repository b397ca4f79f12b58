"""One bad file never stops the others: it is told with its name and what to do, and the rest is published."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline import readers
from pipeline.database import open_newest
from pipeline.errors import UserError
from pipeline.processes.workers import other_processes
from pipeline.readers import TextTable, limits
from pipeline.refresh import read_files
from pipeline.refresh.refresh import refresh
from pipeline.reports.check import findings
from pipeline.shop import load
from tests.hostile import calendar_of_many_days

SALES = "date,channel,product,price\n2026-03-02,market,tray,60\n"


class Panic(BaseException):
    """As a library in Rust raises it: no `Exception`."""


def told(shop: Path) -> dict[str, tuple[str, str]]:
    """How each file was read and what is said of it, after a refresh that loads the sales beside it."""
    (shop / "inbox" / "sales.csv").write_text(SALES, encoding="utf-8")
    assert refresh(load(shop)).published
    with open_newest(shop) as con:
        assert con.execute("select price_cents from records.sales").fetchall() == [(6000,)]
        lost = "select file, rows - loaded - duplicate - set_aside - ignored as lost from intake.file where lost <> 0"
        assert con.execute(lost).fetchall() == []
        return {file: (how, said) for file, how, said in con.execute("select file, how, message from intake.file")
                .fetchall()}  # fmt: skip


def test_what_a_reader_raises_ends_with_its_file(tiny_shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kinds = {kind.__name__: kind for kind in (ValueError, RecursionError, MemoryError, Panic, PermissionError)}

    def stumble(path: Path) -> list[TextTable]:
        raise kinds[path.stem]("a private word")

    monkeypatch.setitem(readers.READERS, ".tsv", stumble)
    for name in kinds:
        (tiny_shop / "inbox" / f"{name}.tsv").write_text("a\tb\n", encoding="utf-8")
    ways = told(tiny_shop)
    log = (tiny_shop / "database" / "refresh.log").read_text(encoding="utf-8")
    for name in kinds:
        how, said = ways[f"inbox/{name}.tsv"]
        assert how == "unreadable"
        assert "." in said and "private" not in said
        assert f"inbox/{name}.tsv: {name} at pipeline/readers/__init__.py:" in log
    assert "private" not in log


def test_a_wish_to_end_is_no_bad_file(tiny_shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def ended(path: Path) -> list[TextTable]:
        raise KeyboardInterrupt

    monkeypatch.setitem(readers.READERS, ".tsv", ended)
    (tiny_shop / "inbox" / "bad.tsv").write_text("a\tb\n", encoding="utf-8")
    with pytest.raises(KeyboardInterrupt):
        told(tiny_shop)


def test_rows_of_a_table_that_cleaning_stumbles_over_keep_their_account(
    tiny_shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clean = read_files.clean

    def stumble(table: TextTable, how: object, shop: object, file: str) -> object:
        return clean(table, how, shop, file) if file == "inbox/sales.csv" else 1 // 0

    monkeypatch.setattr(read_files, "clean", stumble)
    (tiny_shop / "inbox" / "more-sales.csv").write_text(SALES, encoding="utf-8")
    assert told(tiny_shop)["inbox/more-sales.csv"][0] == "unreadable"
    with open_newest(tiny_shop) as con:
        ignored = con.execute("select row, reason, text from intake.ignored where file like '%more%'").fetchall()
    assert ignored == [(1, "header", None), (2, "not read", None)]


@pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="names there are text")
def test_a_name_that_is_no_text(tiny_shop: Path) -> None:
    folders = {"inbox": SALES, "log": SALES, "mends": "file,row,price\n,,60\n"}
    for folder, text in folders.items():
        (tiny_shop / folder).mkdir(exist_ok=True)
        (tiny_shop / folder / os.fsdecode(b"caf\xe9.csv")).write_text(text, encoding="utf-8")
    ways = told(tiny_shop)
    for folder in folders:
        how, said = ways[rf"{folder}/caf\udce9.csv"]
        assert how == "unreadable"
        assert "name" in said


@pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="names there are text, and pipes no files")
def test_a_mapping_that_is_none_is_named_before_anything_waits_for_it(tiny_shop: Path) -> None:
    mappings = tiny_shop / "mappings"
    mappings.mkdir()
    (mappings / os.fsdecode(b"caf\xe9.toml")).write_text('record = "sales"\n', encoding="utf-8")
    with pytest.raises(UserError, match="This mapping can't be read") as named:
        refresh(load(tiny_shop))
    assert "name" in named.value.mend
    next(mappings.iterdir()).unlink()
    os.mkfifo(mappings / "pipe.toml")
    with pytest.raises(UserError, match="This mapping can't be read") as piped:
        refresh(load(tiny_shop))
    assert "no file" in piped.value.mend


def refused(shop: Path) -> dict[str, tuple[str, str]]:
    """The same for whoever may read only what is open to them. What the superuser may beyond that is taken away."""
    (shop / "inbox" / "sales.csv").write_text(SALES, encoding="utf-8")
    asked = [sys.executable, "-m", "pipeline.commands", "refresh", str(shop)]
    if os.geteuid() == 0:
        if not (tool := shutil.which("setpriv")):
            pytest.skip("who may read everything can't be refused")
        asked = [tool, "--bounding-set=-dac_override,-dac_read_search", "--inh-caps=-all", *asked]
    done = subprocess.run(asked, capture_output=True, text=True, check=False)
    assert (done.returncode, "Traceback" in done.stderr) == (0, False), done.stderr
    with open_newest(shop) as con:
        assert con.execute("select price_cents from records.sales").fetchall() == [(6000,)]
        kept = con.execute("select file, how, message from intake.file").fetchall()
        (told,) = con.execute("select count(*) from intake.file where how = 'unreadable'").fetchall()
        assert [row.rows for row in findings(con) if row.kind == "unreadable"] == [1] * told[0]
    return {file: (how, said) for file, how, said in kept}


@pytest.mark.skipif(os.name == "nt", reason="who may read what is told otherwise there")
def test_a_file_or_a_folder_that_may_not_be_read(tiny_shop: Path) -> None:
    """A folder's names can be listed with 0o400, and nothing of it opened."""
    inbox = tiny_shop / "inbox"
    locked = [inbox / f"locked.{kind}" for kind in ("csv", "xlsx", "ics", "json", "parquet")]
    for path in locked:
        path.write_text(SALES, encoding="utf-8")
        path.chmod(0)
    folders = {"2024": 0, "2025": 0o400}
    for name, mode in folders.items():
        (inbox / name).mkdir()
        (inbox / name / "more.csv").write_text(SALES, encoding="utf-8")
        (inbox / name).chmod(mode)
    try:
        ways = refused(tiny_shop)
    finally:
        for name in folders:
            (inbox / name).chmod(0o700)
    for path in locked:
        how, said = ways[f"inbox/{path.name}"]
        assert how == "unreadable"
        assert said.startswith("It can't be opened: Permission denied.")
        assert "See that you may read it" in said
    for name in ("inbox/2024", "inbox/2025/more.csv"):
        how, said = ways[name]
        assert how == "unreadable"
        assert "can't be opened: Permission denied. Make it readable for yourself" in said


@pytest.mark.skipif(os.name == "nt", reason="links and pipes are made otherwise there")
def test_what_is_no_file_is_told_and_what_is_a_programs_own_is_passed_over(tiny_shop: Path) -> None:
    inbox, away = tiny_shop / "inbox", tiny_shop / "elsewhere"
    away.mkdir()
    (away / "more.csv").write_text(SALES, encoding="utf-8")
    (inbox / "linked").symlink_to(away, target_is_directory=True)
    (inbox / "round").symlink_to(inbox, target_is_directory=True)
    (inbox / "loop.csv").symlink_to("loop.csv")
    (inbox / "gone.csv").symlink_to("nowhere.csv")
    os.mkfifo(inbox / "pipe.csv")
    (inbox / ".versions").mkdir()
    (inbox / ".versions" / "sales~1.csv").write_text(SALES, encoding="utf-8")
    ways = told(tiny_shop)
    assert {file.removeprefix("inbox/"): said.partition(".")[0] for file, (how, said) in ways.items() if said} == {
        "linked": "It is a link to a folder, and none is followed",
        "round": "It is a link to a folder, and none is followed",
        "loop.csv": "It can't be opened: Too many levels of symbolic links",
        "gone.csv": "It is a link that leads nowhere",
        "pipe.csv": "It is no file that can be read",
    }
    assert {how for how, said in ways.values() if said} == {"unreadable"}
    assert not any(".versions" in file for file in ways)


NO_QUOTES = (
    b"[" * 100_000, b'{"a":' * 50_000, b"\xff\xfe", b"", b"[]", b"7", b'{"quantity": 1e999}', b" " * 2**21,
    b'{"on_date": "2026-03-01", "product": "\\ud800", "quantity": 1, "predicted_10_cents": 1,'
    b' "predicted_50_cents": 1, "predicted_90_cents": 1}',
    b'{"on_date": "2026-03-01", "product": "tray", "quantity": 1, "predicted_10_cents": 1,'
    b' "predicted_50_cents": 1, "predicted_90_cents": 1, "quoted_hours": ' + b"9" * 400 + b"}",
)  # fmt: skip


def test_a_quote_that_is_none(tiny_shop: Path) -> None:
    (tiny_shop / "quotes").mkdir()
    for n, content in enumerate(NO_QUOTES):
        (tiny_shop / "quotes" / f"Q-{n:03}.json").write_bytes(content)
    ways = told(tiny_shop)
    for n, content in enumerate(NO_QUOTES):
        assert ways[f"quotes/Q-{n:03}.json"][0] == "unreadable", content[:99]


def test_a_file_that_ends_its_process_or_never_ends(tiny_shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By the real way, with other processes; the limits are small so that the test is short."""
    monkeypatch.setattr(limits, "READ_SECONDS", 1.0)
    monkeypatch.setattr(limits, "READ_SECONDS_PER_MB", 0.0)
    inbox = tiny_shop / "inbox"
    calendar_of_many_days(inbox / "long.ics")
    (inbox / "sales.csv").write_text(SALES, encoding="utf-8")
    with other_processes(1) as others:
        found = read_files.read_files(load(tiny_shop), lambda _: None, others)
    ways = {entry["file"]: (entry["how"], entry["message"]) for entry in found.files}
    assert ways["inbox/sales.csv"][0] == "canonical"
    assert ways["inbox/long.ics"][0] == "unreadable"
    assert "more than 1 seconds" in ways["inbox/long.ics"][1]


def test_a_heading_as_long_as_a_letter_is_settled_at_once(tiny_shop: Path) -> None:
    text = f"{'x ' * 35_000},quantity,price\n2026-03-02,1,60\n"
    (tiny_shop / "inbox" / "long.csv").write_text(text, encoding="utf-8")
    assert told(tiny_shop)["inbox/long.csv"][0] == "unmapped"
