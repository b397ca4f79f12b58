"""A refresh that takes over what has not changed publishes the very tables that one from nothing does."""

import shutil
from datetime import date
from pathlib import Path
from random import Random

import duckdb
import pytest
from changes import changed, day, lay_out
from shops import draw_shop

from pipeline import database
from pipeline.database import digests, run
from pipeline.database.plan import Model, read_plan
from pipeline.refresh.refresh import refresh
from pipeline.shop import load
from tests.refreshed import TINY_SHOP
from tests.table_sets import differing
from tests.whole import WHOLE

FEATURES = frozenset(
    (
        *("freight", "tax", "runs", "unsized", "machine", "rework", "pours", "usage", "late", "consumables", "sales"),
        *("returns", "orders", "fees", "pools", "closings", "inspected", "counts", "opening", "raise"),
    )
)
MAY = date(2026, 5, 31)
RECORDS = {
    "pieces": "piece,product,finished\nT-1,tray,2026-02-03\n",
    "hours": "date,person,operation,hours,piece\n2026-02-01,Ada,sanding,1:30,T-1\n",
    "sales": "date,channel,piece,quantity,amount\n2026-02-05,market,T-1,1,90\n",
}


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> set[str]:
    """The tables that are worked out, not taken over."""
    names: set[str] = set()
    whole = digests.Digests.made

    def note(self: digests.Digests, con: object, model: Model, failed: bool = False, rows: bool = True) -> None:
        names.add(model.table)
        whole(self, con, model, failed, rows)  # type: ignore[arg-type]

    monkeypatch.setattr(digests.Digests, "made", note)
    return names


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small shop with its first database."""
    folder = tmp_path_factory.mktemp("first") / "shop"
    (folder / "inbox").mkdir(parents=True)
    (folder / "shop.toml").write_text(TINY_SHOP, encoding="utf-8")
    for record, text in RECORDS.items():
        (folder / "inbox" / f"{record}.csv").write_text(text, encoding="utf-8")
    assert published(folder)
    return folder


@pytest.fixture
def folder(first: Path, tmp_path: Path) -> Path:
    """A copy of that shop."""
    return shutil.copytree(first, tmp_path / "shop")


def published(folder: Path, on: date = MAY) -> Path | None:
    return refresh(load(folder), on=on).published


def from_nothing(folder: Path, on: date = MAY) -> Path | None:
    """What a refresh of a copy without a database publishes, whose queries are planned as those of a large shop."""
    copy = folder.with_name("copy")
    shutil.rmtree(copy, ignore_errors=True)
    shutil.copytree(folder, copy, ignore=shutil.ignore_patterns("database"))
    with pytest.MonkeyPatch.context() as large:
        large.setattr("pipeline.refresh.refresh.FEW_ROWS", 0)
        return published(copy, on)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(1, 4 if WHOLE else 2))
def test_after_any_change_the_tables_are_those_of_a_refresh_from_nothing(tmp_path: Path, seed: int) -> None:
    random, folder = Random(seed), tmp_path / "shop"
    shop = draw_shop(random, FEATURES)
    lay_out(shop, folder, random)
    published(folder)
    told = []
    for _ in range(4):
        told.append([changed(shop, random) for _ in range(random.randint(1, 2))])
        lay_out(shop, folder, random)
        on = day(random)
        one, two = published(folder, on), from_nothing(folder, on)
        assert (one is None) == (two is None), told
        if one and two:
            assert differing(one, two) == [], told


def test_what_has_not_changed_is_not_worked_out(folder: Path, made: set[str]) -> None:
    shutil.rmtree(folder / "database" / ".read")  # else it is seen before anything is linked
    assert published(folder) == folder / "database" / "shop-000002.duckdb"
    assert made == set()
    hours = folder / "inbox" / "hours.csv"
    hours.write_text(hours.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    published(folder)
    assert made == set()


def test_a_table_that_comes_out_as_it_was_stops_the_wave(folder: Path, made: set[str]) -> None:
    inspected = folder / "inbox" / "inspections.csv"
    inspected.write_text("date,piece,result\n2026-02-02,T-1,ok\n", encoding="utf-8")
    published(folder)
    assert "quality.found" in made
    assert "cost.movement" not in made


def test_all_works_everything_out(folder: Path, made: set[str]) -> None:
    assert refresh(load(folder), on=MAY, anew=True).published
    assert made == set(read_plan().models)


@pytest.mark.parametrize("how", ["other version", "no database", "torn", "a block is damaged", "no digests"])
def test_what_cannot_be_begun_from_is_left(
    first: Path, folder: Path, made: set[str], monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    last = database.newest(folder)
    assert last
    content = bytearray(last.read_bytes())
    if how == "other version":
        monkeypatch.setattr(digests, "version", lambda: "another")
    elif how == "no database":
        last.unlink()
    elif how == "torn":
        last.write_bytes(content[: len(content) // 2])
    elif how == "a block is damaged":
        # all after the heads: what of it is the catalogue is read at once, the rest where rows are taken over
        for at in range(3 * 4096, len(content), 16384):
            content[at + 100] ^= 0xFF
        last.write_bytes(content)
    else:
        with duckdb.connect(str(last)) as con:
            con.execute(f"drop table {digests.TABLE}")
    again, whole = published(folder), database.newest(first)
    assert made == set(read_plan().models)
    assert again and whole
    # the version is part of the digests
    assert differing(again, whole) in ([], [digests.TABLE] if how == "other version" else [])


def test_a_last_database_with_views_of_its_own_reaches_no_file(folder: Path, tmp_path: Path) -> None:
    """A folder that somebody sends along may hold a database that our version seems to have made."""
    secret = tmp_path / "secret.csv"
    secret.write_text("word\nxyzzy\n", encoding="utf-8")
    with duckdb.connect(str(database.newest(folder))) as con:
        query = "select sql from duckdb_views() where view_name = '_piece_cost'"
        _, _, whole = con.execute(query).fetchall()[0][0].rstrip(";").partition(" AS ")
        con.execute("drop view cost._piece_cost")
        lure = f"(select any_value(word) from read_csv('{secret}'))"
        con.execute(f"create view cost._piece_cost as select * replace ({lure} as item) from ({whole})")
        con.execute(f"update {digests.TABLE} set made_from = '' where name = 'cost._piece_sum'")
    published(folder)
    with database.open_newest(folder) as con:
        items = con.execute("select distinct item from cost.trace").fetchall()
    assert items
    assert ("xyzzy",) not in items


def test_an_estimate_that_failed_is_tried_again(folder: Path, first: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as broken:
        broken.setattr(run, "make_or_tell", _failing)
        assert refresh(load(folder), on=MAY, anew=True).published
    again, whole = published(folder), database.newest(first)
    assert again and whole and differing(again, whole) == []


def _failing(con: duckdb.DuckDBPyConnection, node: object, *rest: object) -> str:
    from pipeline.estimates.run_estimate import make_or_tell

    make_or_tell(con, node, *rest)  # type: ignore[arg-type]
    con.execute(f"delete from {node.table}")  # type: ignore[attr-defined]
    con.execute("insert into intake.failed_estimate values (?, '', 'it failed')", [node.table])  # type: ignore[attr-defined]
    return "it failed"
