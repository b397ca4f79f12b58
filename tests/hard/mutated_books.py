"""A mutant of a model over a few shops, and who notices: headers, checks, the oracle, the tests of `tests/sql`.

Each shop's tables are made once and kept in a file. The mutant's table is made again in a transaction, then every table
that reads one which came out otherwise; so what changes nothing ends at once.
"""

import json
import shutil
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from hashlib import blake2b
from importlib import import_module
from pathlib import Path
from random import Random
from typing import Any
from unittest import mock

import duckdb
import pytest

from pipeline import database
from pipeline.database import digests
from pipeline.database import run as running
from pipeline.database.plan import Model, ModelError, Plan, read_plan
from pipeline.refresh.refresh import refresh
from pipeline.shop import load
from tests.hard import scene
from tests.hard.mutants import NOTHING, ROOT, STILLBORN, SURVIVED
from tests.hard.mutations import Mutant

sys.path.append(str(ROOT / "tests" / "oracle"))  # as pytest finds what its tests share
import_module("tests.oracle.conftest")  # the profile of its tests

ORACLE = (
    *("whole shops", "counts that err", "counts that err, averaged", "salvage of runs", "ends", "before the start"),
    *("slabs by value", "shop work", "mending", "consumables", "rates of the day", "comparable pieces"),
)
"""The areas of the oracle's tests of which a shop is taken, with all that the area has."""


HELD = "select coalesce(sum(estimated_size), 0) from duckdb_tables() where schema_name in ('settings', 'records')"
"""How many rows a test has given."""


class _WithoutDemo:
    """Leaves out the tests of the demo: it is refreshed by other processes, which don't know of the mutant."""

    @staticmethod
    def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
        items[:] = [item for item in items if "demo" not in getattr(item, "fixturenames", ())]


@dataclass
class Shop:
    """A shop with all of its tables; `oracle`: the queries on which the oracle agrees."""

    name: str
    con: duckdb.DuckDBPyConnection
    held: dict[str, str]
    steady: frozenset[str]
    agreed: list[list[Any]] | None = None


class SqlTests:
    """The shops, made where they are not kept yet, and the tests of `tests/sql` over tables without rows."""

    def __init__(self, home: Path, demo: Path | None) -> None:
        home.mkdir(parents=True, exist_ok=True)
        self.plan, self.home = read_plan(), home
        self.scratch = Path(tempfile.mkdtemp(prefix="books-"))
        self.shops = [self._opened(path) for path in (*self._oracle(), self._scene(), *self._demo(demo))]
        self.sound: set[str] = set()

    def end(self) -> None:
        """Forget what was opened."""
        for shop in self.shops:
            shop.con.close()
        shutil.rmtree(self.scratch)

    def verdict(self, mutant: Mutant) -> str:
        """What killed it, or why it counts for nothing, or `SURVIVED` with the shops of which it changed a figure."""
        table = mutant.file.removeprefix("sql/").removesuffix(".sql").replace("/", ".")
        lines = [line for line in mutant.text.split("\n") if not line.startswith("--")]
        model = replace(self.plan.models[table], sql="\n".join(lines).strip().rstrip(";"))
        try:
            self._binds(model)
        except duckdb.Error:
            return STILLBORN
        changed = []
        for shop in self.shops:
            verdict, tables = self._over(shop, model)
            if verdict:
                return verdict
            if tables:
                changed.append(f"{shop.name}: {', '.join(sorted(tables)[:4])}")
        if not changed:
            return NOTHING
        return self._tested(model) or f"{SURVIVED}: {'; '.join(changed[:3])}"

    def _binds(self, model: Model) -> None:
        self.shops[0].con.execute(f"explain {model.sql}").fetchall()

    def _over(self, shop: Shop, model: Model) -> tuple[str, list[str]]:
        """What kills a mutant over a shop, and the tables that it changes there."""
        con, changed = shop.con, dict[str, Model]()
        con.execute("begin")
        try:
            for table, known in self.plan.models.items():
                if table != model.table and not (known.inputs & changed.keys()):
                    continue
                one = model if table == model.table else known
                if one.node or table not in shop.steady:
                    continue  # an estimate stays as it was
                try:
                    running.make_table(con, one)
                    if one.view or con.execute(digests.content(table)).fetchall()[0][0] != shop.held[table]:
                        changed[table] = one
                        running.test_table(con, one)
                except ModelError as error:
                    rule = str(error).partition(": ")[2]
                    return f"header: {table} {rule.partition(' fails')[0]}"[:120], []
            firing = [check.table for check in self.plan.checks if check.severity == "error"
                      and check.inputs & changed.keys() and self._fires(con, check)]  # fmt: skip
            agreed = shop.agreed and "cost.trace" in changed and self._sums(con) != shop.agreed
        except duckdb.Error as error:
            return f"it stops the refresh: {type(error).__name__}", []
        finally:
            con.execute("rollback")
        stored = [table for table, one in changed.items() if not one.view]
        if firing:
            return f"check{'' if len(firing) == 1 and not agreed else 's'}: {', '.join(firing)}", stored
        return ("the oracle" if agreed else ""), stored

    @staticmethod
    def _fires(con: duckdb.DuckDBPyConnection, check: Model) -> bool:
        return bool(con.execute(f"select count(*) from ({check.sql})").fetchall()[0][0])

    @staticmethod
    def _sums(con: duckdb.DuckDBPyConnection) -> list[list[Any]]:
        from test_books import published_by_day, published_by_piece, published_own_pay

        return [sorted(query(con).items(), key=repr) for query in (published_by_piece, published_by_day,
                                                                   published_own_pay)]  # fmt: skip

    # --- the tests of tests/sql ---------------------------------------------------------------------------------------

    def _tested(self, model: Model) -> str:
        """Which test of `tests/sql` kills it; "" where none does."""
        named = f'"{model.table}"'
        found = sorted((ROOT / "tests" / "sql").rglob("test_*.py"))
        paths = [path for path in found if named in path.read_text(encoding="utf-8")]
        for path in (path.relative_to(ROOT).as_posix() for path in paths):
            if path not in self.sound and self._pytest(self.plan, path):
                raise SystemExit(f"{path} fails without a change: no test of it tells anything")
            self.sound.add(path)
            if self._pytest(replace(self.plan, models=self.plan.models | {model.table: model}), path):
                return f"tests: {path}"
        return ""

    def _pytest(self, plan: Plan, path: str) -> bool:
        """Whether a file of tests fails by this plan. Tables without rows are copied, not made anew each time."""
        empty = self.scratch / "empty.duckdb"
        made = running.run_models

        def copied(con: duckdb.DuckDBPyConnection, tell: Any, *given: Any, **named: Any) -> None:
            if con.execute(HELD).fetchall()[0][0]:  # a test's own shop
                made(con, tell, *given, **named)
            elif not empty.exists():
                made(con, tell, self.plan)
                con.execute(f"attach '{empty}' as kept")
                con.execute("copy from database memory to kept")
                con.execute("detach kept")
            else:
                for schema in ("settings", "intake", "records"):
                    con.execute(f"drop schema if exists {schema} cascade")
                con.execute(f"attach '{empty}' as kept (read_only)")
                con.execute("copy from database kept to memory")
                con.execute("detach kept")

        patched = {"read_plan": lambda *_: plan, "run_models": copied}
        with (
            mock.patch("pipeline.database.plan.read_plan", patched["read_plan"]),
            mock.patch("tests.hard.mutated_books.running.read_plan", patched["read_plan"]),
            mock.patch("tests.hard.mutated_books.running.run_models", patched["run_models"]),
            tempfile.TemporaryFile("w+") as said,
            mock.patch("sys.stdout", said),
        ):
            quick = ["-x", "-q", "-n0", "-p", "no:cacheprovider", "-m", "not slow and not browser", *("-W", "ignore")]
            code = pytest.main([*quick, str(ROOT / path)], plugins=[_WithoutDemo()])
        _forget_tests()
        return code not in (0, 5)

    # --- the shops ----------------------------------------------------------------------------------------------------

    def _opened(self, kept: Path) -> Shop:
        copied = self.scratch / kept.name
        shutil.copyfile(kept, copied)
        con = duckdb.connect(str(copied))
        con.execute("set threads = 1")
        stored = [table for table, model in self.plan.models.items() if not model.view and not model.node]
        there = {f"{schema}.{name}" for schema, name in con.execute(
            "select schema_name, table_name from duckdb_tables() union all"
            " select schema_name, view_name from duckdb_views()").fetchall()}  # fmt: skip
        held = {t: con.execute(digests.content(t)).fetchall()[0][0] for t in stored if t in there}
        oracle = kept.name.startswith("oracle")
        steady = frozenset(table for table in self.plan.models if table in there)
        shop = Shop(kept.stem, con, held, steady)
        # tables that another version of the models made, or sums of doubles that come out otherwise each time
        noted = self.home / f"steady-{kept.stem}.json"
        known = json.loads(noted.read_text(encoding="utf-8")) if noted.exists() else {}
        version = _version(self.plan)
        if known.get("version") != version:
            tables = [table for table in sorted(steady) if self._is_steady(shop, self.plan.models[table])]
            known = {"version": version, "tables": tables}
            noted.write_text(json.dumps(known), encoding="utf-8")
        shop.steady = frozenset(known["tables"])
        shop.agreed = self._sums(con) if oracle else None
        return shop

    def _is_steady(self, shop: Shop, model: Model) -> bool:
        if model.view or model.node:
            return True
        shop.con.execute("begin")
        try:
            running.make_table(shop.con, model)
            return bool(shop.con.execute(digests.content(model.table)).fetchall()[0][0] == shop.held[model.table])
        except ModelError:
            return False
        finally:
            shop.con.execute("rollback")

    def _oracle(self) -> Iterator[Path]:
        from shops import draw_shop, linked, run
        from test_books import AREAS, assert_agree

        for number, area in enumerate(ORACLE):
            path = self.home / f"oracle-{number:02}.duckdb"
            if not path.exists():
                shop = draw_shop(Random(number), frozenset(AREAS[area]))
                assert_agree(shop).close()
                with tempfile.TemporaryDirectory() as folder:
                    con = run(linked(shop, Path(folder)), whole=number % 4 == 0)
                _kept(con, "draft", path)
            yield path

    def _scene(self) -> Path:
        path = self.home / "scene.duckdb"
        if not path.exists():
            with tempfile.TemporaryDirectory() as folder:
                published = refresh(load(scene.make(Path(folder) / "shop"))).published
                assert published
                shutil.copyfile(published, path)
        return path

    def _demo(self, demo: Path | None) -> Iterator[Path]:
        if demo and (published := database.newest(demo)):
            path = self.home / "demo.duckdb"
            if not path.exists():
                shutil.copyfile(published, path)
            yield path


def _version(plan: Plan) -> str:
    """A hash of all models."""
    return blake2b("".join(model.sql for model in plan.models.values()).encode(), digest_size=20).hexdigest()


def _kept(con: duckdb.DuckDBPyConnection, name: str, path: Path) -> None:
    part = path.with_suffix(".part")
    part.unlink(missing_ok=True)
    con.execute(f"attach '{part}' as kept")
    con.execute(f"copy from database {name} to kept")
    con.close()
    part.rename(path)


def _forget_tests() -> None:
    """Tests read again import their helpers again: those of the last run hold the plan of then."""
    for name in [name for name in sys.modules if name.startswith("tests.sql") or name == "tests.conftest"]:
        del sys.modules[name]
