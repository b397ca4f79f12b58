"""Files are read again only where what they are made from has changed; where nothing has, the last database stays."""

import json
import os
import shutil
from datetime import date
from hashlib import blake2b
from pathlib import Path

import polars as pl
import pytest

from pipeline import database
from pipeline.database import digests
from pipeline.refresh import file_cache, read_files
from pipeline.refresh.read_files import KEPT_KINDS
from pipeline.refresh.refresh import Summary, refresh
from pipeline.shop import load
from pipeline.shop.contents import LAST_REFRESH, changed_since
from tests.refreshed import TINY_SHOP
from tests.table_sets import differing

MAY = date(2026, 5, 31)
FILES = {
    "pieces.csv": "piece,product,finished\nT-1,tray,2026-02-03\n",
    "hours.csv": "date,person,operation,hours,pieces\n2026-02-01,Ada,sanding,1:30,T-1\nsoon,Ada,sanding,1,T-1\n",
    "odd.csv": "colour;weather\nred;rain\n",
    "till.csv": "day;what;each\n3.2.2026;T-1;90\n",
}
ITEM = '\n[[items]]\nname = "clear resin"\ncategory = "resin"\n'
RENT = '\n[[pools]]\nname = "rent"\namount = 400\n'
RAISE = """
[[people.rates]]
rate = 30
[[people.rates]]
from = 2026-04-01
rate = 36
[[rules]]
from = 2026-04-01
normal_scrap = 0.1
"""
MAPPING = 'files = "till.csv"\nrecord = "sales"\n[columns]\ndate = "day"\npiece = "what"\nprice = "each"\n'


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("first") / "shop"
    (folder / "inbox").mkdir(parents=True)
    (folder / "mappings").mkdir()
    (folder / "shop.toml").write_text(TINY_SHOP, encoding="utf-8")
    (folder / "mappings" / "till.toml").write_text(MAPPING, encoding="utf-8")
    for name, text in FILES.items():
        (folder / "inbox" / name).write_text(text, encoding="utf-8")
    assert done(folder).published
    return folder


@pytest.fixture
def folder(first: Path, tmp_path: Path) -> Path:
    return shutil.copytree(first, tmp_path / "shop")


@pytest.fixture
def read(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The files that are read, not known from the last time."""
    names: list[str] = []
    whole = read_files.read

    def note(path: Path, **how: object) -> object:
        names.append(path.name)
        return whole(path, **how)  # type: ignore[arg-type]

    monkeypatch.setattr(read_files, "read", note)
    return names


def done(folder: Path, on: date = MAY) -> Summary:
    return refresh(load(folder), on=on)


def test_one_more_file_is_the_only_one_read(folder: Path, read: list[str]) -> None:
    (folder / "inbox" / "more.csv").write_text("date,person,operation,hours,piece\n2026-02-02,Ada,sanding,1,T-1\n")
    assert done(folder).published
    assert read == ["more.csv"]


def test_a_raise_a_rent_and_a_rule_have_no_file_read_again(folder: Path, read: list[str]) -> None:
    (folder / "inbox" / "more.csv").write_text("date,person,operation,hours,piece\n2026-02-02,Ada,zubbeln,2:00,T-1\n")
    (folder / "shop.toml").write_text(TINY_SHOP + RENT, encoding="utf-8")
    assert done(folder).published
    read.clear()
    raised = TINY_SHOP.replace("rate = 30\n", RAISE) + RENT.replace("400", "450")
    (folder / "shop.toml").write_text(raised, encoding="utf-8")
    assert done(folder).published
    assert read == []
    assert worth_of_question(folder) == [(7200,)]  # two hours at the highest pay, the new one
    shutil.rmtree(folder / "database")
    assert done(folder).published
    assert worth_of_question(folder) == [(7200,)]


def worth_of_question(folder: Path) -> list[tuple[int]]:
    with database.open_newest(folder) as con:
        query = "select worth_cents from intake.question where ask like '%zubbeln%'"
        return con.execute(query).fetchall()


@pytest.mark.parametrize("what", ["settings", "an item", "mapping", "bytes", "version", "all deleted", "a mend"])
def test_what_a_file_is_made_from_has_it_read_again(
    folder: Path, read: list[str], monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    expected = set(FILES)
    if what == "settings":
        (folder / "shop.toml").write_text(TINY_SHOP + '\n[words.operation]\nrubbing = "sanding"\n', encoding="utf-8")
    elif what == "an item":
        (folder / "shop.toml").write_text(TINY_SHOP + ITEM, encoding="utf-8")
    elif what == "mapping":
        (folder / "mappings" / "till.toml").write_text(MAPPING + "[constants]\nchannel = 'market'\n", encoding="utf-8")
    elif what == "bytes":
        (folder / "inbox" / "till.csv").write_text(FILES["till.csv"].replace("90", "95"), encoding="utf-8")
        expected = {"till.csv"}
    elif what == "version":
        monkeypatch.setattr(digests, "version", lambda: "another")
    elif what == "all deleted":
        shutil.rmtree(folder / LAST_REFRESH.parent)
    else:
        (folder / "mends").mkdir(exist_ok=True)
        mend = "file,sheet,row,date,person,operation,hours,pieces\ninbox/hours.csv,,3,2026-02-02,Ada,sanding,1,T-1\n"
        (folder / "mends" / "hours.csv").write_text(mend)
        expected = {"hours.csv"}
    summary = done(folder)
    assert set(read) == expected
    assert summary.counts["set_aside"] == (1 if what == "a mend" else 2)


@pytest.mark.parametrize("how", ["torn", "no JSON", "another kind", "no frame", "deep", "not ours", "pickled"])
def test_what_is_damaged_or_forged_is_read_anew(folder: Path, read: list[str], tmp_path: Path, how: str) -> None:
    trap = tmp_path / "trap"
    forged = {
        "no JSON": b"{",
        "another kind": json.dumps(["Path", ["/"]]).encode(),
        "no frame": json.dumps(["frame", 7]).encode(),
        "deep": b"[" * 100_000,
        "not ours": json.dumps(["dict", []]).encode(),
        "pickled": f"cposix\nsystem\n(S'touch {trap}'\ntR.".encode(),
    }
    for path in (folder / LAST_REFRESH.parent).iterdir():
        if how == "torn":
            path.write_bytes(path.read_bytes()[:-20])
        elif path.name != LAST_REFRESH.name:
            body = forged[how]
            head = json.dumps([blake2b(body, digest_size=20).hexdigest(), [len(body)]]).encode()
            path.write_bytes(head + b"\n" + body)
    last = database.newest(folder)
    summary = done(folder)
    assert set(read) == set(FILES)
    assert not trap.exists()
    assert last and summary.published
    assert differing(last, summary.published) == []


def test_a_link_in_its_place_is_neither_followed_nor_emptied(folder: Path, read: list[str], tmp_path: Path) -> None:
    """A folder that somebody sends along may hold a link to any other."""
    other = tmp_path / "other"
    other.mkdir()
    names = ("letter.txt", "a" * 40, LAST_REFRESH.name)
    for name in names:
        (other / name).write_text("mine", encoding="utf-8")
    shutil.rmtree(folder / LAST_REFRESH.parent)
    (folder / LAST_REFRESH.parent).symlink_to(other, target_is_directory=True)
    for _ in range(2):
        assert done(folder).published
    # what leaves something open is read once more, with what the others say
    assert sorted(read) == sorted([*FILES, *FILES, "odd.csv", "odd.csv"])
    assert {path.name: path.read_text(encoding="utf-8") for path in other.iterdir()} == dict.fromkeys(names, "mine")


def test_what_is_not_its_own_stays(folder: Path) -> None:
    letter = folder / LAST_REFRESH.parent / "letter.txt"
    letter.write_text("mine", encoding="utf-8")
    (folder / "inbox" / "odd.csv").unlink()
    assert done(folder).published
    assert letter.read_text(encoding="utf-8") == "mine"


def test_what_could_not_be_read_is_tried_again(folder: Path, read: list[str]) -> None:
    (folder / "inbox" / "broken.xlsx").write_bytes(b"PK\x03\x04 no workbook")
    for _ in range(2):
        assert done(folder).counts["unreadable"] == 1
    assert read == ["broken.xlsx", "broken.xlsx"]


def test_a_file_that_changes_while_it_is_read_is_not_kept(
    folder: Path, read: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    path, whole = folder / "inbox" / "till.csv", read_files.read
    path.write_text(FILES["till.csv"] + "4.2.2026;T-1;95\n", encoding="utf-8")

    def meddle(found: Path, **how: object) -> object:
        tables = whole(found, **how)  # type: ignore[arg-type]
        if found == path:
            before = path.stat().st_mtime_ns
            path.write_text(FILES["till.csv"], encoding="utf-8")
            os.utime(path, ns=(before + 1, before + 1))
        return tables

    monkeypatch.setattr(read_files, "read", meddle)
    done(folder)
    done(folder)
    assert read == ["till.csv", "till.csv"]


def test_what_is_kept_comes_back_as_it_was(tmp_path: Path) -> None:
    frame = pl.DataFrame(
        {"day": [MAY, None], "tags": [["a", "b"], []], "text": ["ü\n\udc80".encode(errors="replace").decode(), ""]},
        schema_overrides={"tags": pl.List(pl.String)},
    )
    value = {("a", ""): [frame, 1.5, None, True, 2**60], "empty": (frame.clear(),)}
    file_cache.keep(tmp_path, "one", value, KEPT_KINDS)
    back = file_cache.value_of(tmp_path, "one", KEPT_KINDS)
    assert back[("a", "")][1:] == value[("a", "")][1:]
    assert back[("a", "")][0].equals(frame) and back["empty"][0].schema == frame.schema
    file_cache.keep(tmp_path, "two", {"day": MAY}, KEPT_KINDS)  # of a kind that is none of ours
    assert file_cache.value_of(tmp_path, "two", KEPT_KINDS) is None


def test_where_nothing_has_changed_the_last_database_stays(folder: Path, read: list[str]) -> None:
    before = database.newest(folder)
    told = done(folder)
    assert told.unchanged and told.published == before
    assert read == []
    whole = refresh(load(folder), on=MAY, anew=True)
    assert (told.counts, told.checks, told.unmapped) == (whole.counts, whole.checks, whole.unmapped)
    assert whole.published != before


@pytest.mark.parametrize("what", ["a day later", "a file gone", "a quote", "a closed month", "a byte of the database"])
def test_a_change_of_any_kind_makes_a_new_database(folder: Path, what: str) -> None:
    last = database.newest(folder)
    assert last
    if what == "a file gone":
        (folder / "inbox" / "odd.csv").unlink()
    elif what == "a quote":
        (folder / "quotes").mkdir(exist_ok=True)
        (folder / "quotes" / "Q-001.json").write_text("{}")
    elif what == "a closed month":
        (folder / "reports" / "closed").mkdir(parents=True)
        header = ",".join(read_files.closed_months.SCHEMA)
        (folder / "reports" / "closed" / "2026-01.csv").write_text(f"{header}\n2026-01-01,figure,revenue,,,,,,,,0\n")
    elif what == "a byte of the database":
        content = bytearray(last.read_bytes())
        content[-100] ^= 0xFF
        last.write_bytes(content)
    assert done(folder, date(2026, 6, 1) if what == "a day later" else MAY).published != last


def test_what_looks_changed(folder: Path) -> None:
    assert not changed_since(folder, folder / LAST_REFRESH)
    os.utime(folder / "inbox" / "odd.csv", ns=(2**62, 2**62))
    assert changed_since(folder, folder / LAST_REFRESH)
    assert changed_since(folder, folder / "database" / "none")


def test_the_version_is_part_of_each_key(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = folder / "inbox" / "odd.csv"
    key = file_cache.key(path, "a")
    assert key == file_cache.key(path, "a") != file_cache.key(path, "b")
    monkeypatch.setattr(digests, "version", lambda: "another")
    assert key != file_cache.key(path, "a")
