"""Publishing in one step: whoever reads always finds a whole database."""

import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import duckdb
import polars as pl
import pytest

from pipeline import database, tables
from pipeline.errors import UserError
from pipeline.records import RECORDS

UNLINKED = pl.DataFrame(
    {"row_id": [1, 2], "record": ["sales", "sales"], "field": ["piece", "lot"], "tag": ["T-9", None]},
    schema_overrides={"row_id": pl.Int64},
)


def publish(folder: Path, *tags: str) -> Path:
    frame = pl.DataFrame({"row_id": range(len(tags)), "record": "sales", "field": "piece", "tag": tags})
    with database.lock(folder), database.draft(folder) as draft:
        database.load(draft.con, {"intake.unlinked": frame})
        return draft.publish()


def tags(folder: Path) -> list[str]:
    with database.open_newest(folder) as con:
        return [row[0] for row in con.execute("select tag from intake.unlinked order by row_id").fetchall()]


def test_databases_are_numbered_and_three_are_kept(tmp_path: Path) -> None:
    made = [publish(tmp_path, f"T-{n}").name for n in range(5)]
    assert made == [f"shop-{n:06}.duckdb" for n in range(1, 6)]
    assert sorted(p.name for p in (tmp_path / "database").glob("shop-*")) == made[2:]
    assert database.newest(tmp_path) == tmp_path / "database" / made[-1]
    assert tags(tmp_path) == ["T-4"]


def test_after_deleting_the_database_a_refresh_makes_it_again(tmp_path: Path) -> None:
    publish(tmp_path, "T-1").unlink()
    assert database.newest(tmp_path) is None
    publish(tmp_path, "T-1")
    assert tags(tmp_path) == ["T-1"]


def test_a_draft_that_is_not_published_leaves_nothing(tmp_path: Path) -> None:
    publish(tmp_path, "T-1")
    with database.draft(tmp_path) as draft:
        draft.con.execute("insert into intake.unlinked (tag) values ('T-2')")
    with pytest.raises(ZeroDivisionError), database.draft(tmp_path):
        _ = 1 / 0
    assert [p.name for p in (tmp_path / "database").glob("shop-*")] == ["shop-000001.duckdb"]
    assert tags(tmp_path) == ["T-1"]


def test_what_does_not_fit_into_memory_is_spilt_beside_the_draft_and_leaves_nothing(tmp_path: Path) -> None:
    spilt = tmp_path / "database" / ".spilt"
    spilt.mkdir(parents=True)
    (spilt / "of one that died").touch()
    with database.draft(tmp_path) as draft:
        assert not spilt.exists()
        draft.con.execute("set memory_limit = '30MB'; set threads = 1")
        draft.con.execute("create table t as select md5(i::varchar) as m from range(500000) as r(i) order by m")
        assert [*spilt.iterdir()]
    assert not [*(tmp_path / "database").iterdir()]


def test_whoever_has_the_old_one_open_goes_on(tmp_path: Path) -> None:
    publish(tmp_path, "T-1")
    with database.open_newest(tmp_path) as old:
        publish(tmp_path, "T-2")
        assert old.execute("select tag from intake.unlinked").fetchall() == [("T-1",)]
        assert tags(tmp_path) == ["T-2"]


def test_a_damaged_newest_gives_way_to_the_one_before(tmp_path: Path) -> None:
    publish(tmp_path, "T-1")
    (tmp_path / "database" / "shop-000002.duckdb").write_bytes(b"no database at all" * 999)
    assert tags(tmp_path) == ["T-1"]


def test_a_published_database_is_read_only(tmp_path: Path) -> None:
    publish(tmp_path, "T-1")
    with database.open_newest(tmp_path) as con, pytest.raises(duckdb.Error, match="read-only"):
        con.execute("delete from intake.unlinked")


def test_nothing_published_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="kerfledger refresh"):
        database.open_newest(tmp_path)


def test_names_that_are_no_databases_of_ours_are_left_alone(tmp_path: Path) -> None:
    mine = tmp_path / "database" / "shop-mine.duckdb"
    mine.parent.mkdir()
    mine.write_bytes(b"")
    for n in range(4):
        publish(tmp_path, f"T-{n}")
    assert mine.exists()
    assert tags(tmp_path) == ["T-3"]


def test_a_second_refresh_waits_for_the_first(tmp_path: Path) -> None:
    with (
        database.lock(tmp_path),
        pytest.raises(UserError, match="still running"),
        database.lock(tmp_path, wait_s=0.05),
    ):
        pass
    with database.lock(tmp_path, wait_s=0.05):
        pass


def test_every_record_and_setting_has_a_typed_commented_table() -> None:
    with duckdb.connect() as con:
        database.create_given(con)
        for table, columns in tables.given_tables().items():
            made = {row[0]: row[1] for row in con.execute(f"describe {table}").fetchall()}
            assert made == columns
        query = (
            "select column_name from duckdb_columns() where schema_name in ('records', 'settings') and comment is null"
        )
        unsaid = {row[0] for row in con.execute(query).fetchall()}
    assert not unsaid


def test_bridges_stand_beside_the_records_that_list_pieces() -> None:
    bridges = {name for name in tables.given_tables() if name.endswith("_piece")}
    assert bridges == {"records.hours_piece", "records.usage_piece", "records.moves_piece"}


@pytest.mark.parametrize(
    ("frame", "words"),
    [
        (UNLINKED.drop("tag"), "missing .*tag"),
        (UNLINKED.with_columns(pl.lit(1).alias("more")), "too many .*more"),
        (UNLINKED.cast({"row_id": pl.String}), "row_id.*String"),
        (UNLINKED.with_columns(pl.lit(None).alias("tag")), "tag.*Null"),
    ],
)
def test_a_frame_of_another_shape_is_refused(frame: pl.DataFrame, words: str) -> None:
    with duckdb.connect() as con, pytest.raises(TypeError, match=words):
        database.create_given(con)
        database.load(con, {"intake.unlinked": frame})


def test_every_type_of_a_record_survives(tmp_path: Path) -> None:
    columns = RECORDS["hours"].columns()
    row = {"row_id": 7, "pieces": ["T-1", "T-2"], "seconds": 3600, "attended": True}
    with duckdb.connect() as con:
        database.create_given(con)
        empty = con.sql("from records.hours").pl()
        frame = pl.DataFrame([dict.fromkeys(columns) | row], schema=empty.schema)
        database.load(con, {"records.hours": frame.select(reversed(frame.columns))})
        assert con.sql("from records.hours").pl().equals(frame)


REFRESHES = """
import sys
from pathlib import Path
import polars as pl
from pipeline import database
folder = Path(sys.argv[1])
frame = pl.DataFrame({"row_id": range(200_000), "record": "sales", "field": "piece", "tag": "T-1"})
print("begun", flush=True)
while True:
    with database.lock(folder), database.draft(folder) as draft:
        database.load(draft.con, {"intake.unlinked": frame})
        draft.publish()
"""


def test_killed_at_any_moment_the_last_database_stays_whole(tmp_path: Path) -> None:
    publish(tmp_path, "T-0")
    moments = random.Random(20260531)
    interrupted = 0
    for _ in range(6):
        process = subprocess.Popen([sys.executable, "-c", REFRESHES, str(tmp_path)], stdout=subprocess.PIPE)
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(moments.uniform(0.0, 0.4))
        process.send_signal(signal.SIGKILL)
        process.wait()
        process.stdout.close()
        interrupted += any((tmp_path / "database").glob("*.draft"))
        for path in (tmp_path / "database").glob("shop-*.duckdb"):
            with duckdb.connect(str(path), read_only=True) as con:
                count = con.execute("select count(*), count(distinct row_id) from intake.unlinked").fetchall()[0]
            assert count in ((1, 1), (200_000, 200_000))
    assert interrupted, "no kill came while a draft was being built, so nothing was tried"
    # the lock died with its holder, and the next refresh sweeps what was left half done
    publish(tmp_path, "T-last")
    assert tags(tmp_path) == ["T-last"]
    assert not [*(tmp_path / "database").glob("*.draft*"), *(tmp_path / "database").glob("*.wal")]
