"""Mutation testing of `sql/` and of estimates, cleaning and linking: which slips of ours would no test see?

    python -m tests.hard.mutants [--seed 1] [--minutes 15] [--sql 300] [--python 60] [--only cost/_offcut]
                                 [--home DIR] [--demo DIR]

One thing is changed in one file (`mutations.py`). A mutant of a model is first run over the shops kept in `--home`: one
that doesn't run there counts for nothing, one that changes no figure of any of them is told apart. The others must be
killed: by a `@key` or `@check`, by a check of severity error, by the oracle (what it says of the trace of its shops),
or by the tests of `tests/sql` that name the model. A mutant of Python must be killed by the quick tests that name its
module. Results are kept in `--home` under the seed, so that another run goes on where this one ended. Prints the counts
and the survivors, and which checks caught something alone. Exit 1 where any survived.
"""

import argparse
import json
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from random import Random

from tests.hard.mutations import Mutant, of_python, of_sql

ROOT = Path(__file__).parents[2]
AREAS = ("estimates", "cleaning", "linking")
LONGEST_S = 300.0

NOTHING, STILLBORN, SURVIVED = "changes no figure", "does not run", "survived"

# begun once with the libraries, not with our code: what it forks reads our code with the one module changed
SERVER = """
import importlib.abc, importlib.util, json, os, signal, sys
import duckdb, hypothesis, numpy, polars, pytest, scipy.optimize, scipy.stats

class Changed(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    def __init__(self, module, text, file):
        self.module, self.text, self.file = module, text, file
    def find_spec(self, name, path=None, target=None):
        if name != self.module:
            return None
        places = [os.path.dirname(self.file)] if self.file.endswith("__init__.py") else None
        return importlib.util.spec_from_file_location(name, self.file, loader=self, submodule_search_locations=places)
    def create_module(self, spec):
        return None
    def exec_module(self, module):
        exec(compile(self.text, self.file, "exec"), module.__dict__)

print("ready", flush=True)
for line in sys.stdin:
    asked = json.loads(line)
    child = os.fork()
    if not child:
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, 1), os.dup2(null, 2)
        signal.alarm(int(asked["seconds"]))
        sys.meta_path.insert(0, Changed(asked["module"], asked["text"], asked["file"]))
        quick = ["-x", "-q", "-n0", "-p", "no:cacheprovider", "-m", "not slow and not browser"]
        known = ["-W", "ignore::pytest.PytestAssertRewriteWarning"]  # the libraries are there already
        os._exit(pytest.main([*quick, *known, *asked["tests"]]))
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""


class PythonTests:
    """Runs the quick tests that name a module, with the module changed."""

    def __init__(self) -> None:
        self.server = subprocess.Popen(
            [sys.executable, "-c", SERVER], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT
        )
        assert self.server.stdout and self.server.stdout.readline() == "ready\n"
        self.sound: dict[tuple[str, ...], bool] = {}

    def verdict(self, mutant: Mutant) -> str:
        """What killed it, or `SURVIVED`."""
        tests = _tests_of(mutant.file)
        if tests not in self.sound:  # tests that fail anyhow would kill everything
            self.sound[tests] = self._code(mutant, (ROOT / mutant.file).read_text(encoding="utf-8"), tests) == 0
        if not self.sound[tests]:
            return f"not tried: {', '.join(tests)} fail without a change"
        code = self._code(mutant, mutant.text, tests)
        return SURVIVED if code == 0 else "tests" if code == 1 else f"tests, which end with {code}"

    def _code(self, mutant: Mutant, text: str, tests: tuple[str, ...]) -> int:
        assert self.server.stdin and self.server.stdout
        module = mutant.file.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
        file = str(ROOT / mutant.file)
        asked = {"module": module, "text": text, "file": file, "tests": tests, "seconds": LONGEST_S}
        self.server.stdin.write(json.dumps(asked) + "\n")
        self.server.stdin.flush()
        return int(self.server.stdout.readline())

    def end(self) -> None:
        """End the process that runs them."""
        self.server.communicate()


def _tests_of(file: str) -> tuple[str, ...]:
    """The test files of its area that name the module; all of the area where none does."""
    area, module = Path(file).parts[1], Path(file).stem
    found = sorted((ROOT / "tests" / area).glob("test_*.py"))
    name = area if module == "__init__" else module
    naming = [path for path in found if name in path.read_text(encoding="utf-8") or name.strip("_") in path.stem]
    return tuple(path.relative_to(ROOT).as_posix() for path in naming or found)


def mutants_of_sql() -> Iterator[Mutant]:
    """All mutants of the models; checks are what kills, and are not changed."""
    for path in sorted((ROOT / "sql").glob("*/*.sql")):
        if path.parent.name != "checks":
            yield from of_sql(path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8"))


def mutants_of_python() -> Iterator[Mutant]:
    """All mutants of estimates, cleaning and linking."""
    for area in AREAS:
        for path in sorted((ROOT / "pipeline" / area).glob("*.py")):
            yield from of_python(path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8"))


def spread(mutants: list[Mutant], seed: int) -> list[Mutant]:
    """In an order that takes a file after the other, each time another of its mutants."""
    random, by_file = Random(seed), dict[str, list[Mutant]]()
    for mutant in random.sample(mutants, len(mutants)):
        by_file.setdefault(mutant.file, []).append(mutant)
    files = sorted(by_file, key=lambda _: random.random())
    most = max(map(len, by_file.values()), default=0)
    return [by_file[file][turn] for turn in range(most) for file in files if turn < len(by_file[file])]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=15)
    parser.add_argument("--sql", type=int, default=300, help="so many mutants of models that change a figure")
    parser.add_argument("--python", type=int, default=60)
    parser.add_argument("--only", default="", help="parts of their names: `cost/_offcut|money/`")
    parser.add_argument("--home", type=Path, help="keeps the shops and the results")
    parser.add_argument("--demo", type=Path, help="the demo shop, refreshed, as one shop more")
    asked = parser.parse_args()
    begun = time.monotonic()
    home = asked.home or Path(tempfile.mkdtemp(prefix="mutants-"))
    kept = home / f"results-{asked.seed}.jsonl"
    told = [json.loads(line) for line in kept.read_text(encoding="utf-8").splitlines()] if kept.exists() else []
    results: dict[str, str] = dict(told)
    with kept.open("a", encoding="utf-8") as out:
        for mutants, most, tests in (
            (mutants_of_sql, asked.sql, lambda: _sql_tests(home, asked.demo)),
            (mutants_of_python, asked.python, PythonTests),
        ):
            if not most:
                continue
            tried = None
            suffix = ".sql" if mutants is mutants_of_sql else ".py"
            done = sum(suffix in name and counts(verdict) for name, verdict in results.items())
            for mutant in spread([m for m in mutants() if wanted(m.name, asked.only)], asked.seed):
                if done >= most or time.monotonic() - begun > 60 * asked.minutes:
                    break
                if mutant.name in results:
                    continue
                tried = tried or tests()
                results[mutant.name] = verdict = tried.verdict(mutant)
                done += counts(verdict)
                out.write(json.dumps([mutant.name, verdict]) + "\n")
                out.flush()
            if tried:
                tried.end()
    return summed_up({name: verdict for name, verdict in results.items() if wanted(name, asked.only)})


def wanted(name: str, only: str) -> bool:
    """Whether a mutant's name has one of the parts asked for."""
    return any(part in name for part in only.split("|"))


def _sql_tests(home: Path, demo: Path | None):  # type: ignore[no-untyped-def]
    from tests.hard.mutated_books import SqlTests

    return SqlTests(home, demo)


def counts(verdict: str) -> bool:
    """Whether a mutant is one that a test has to kill."""
    return not verdict.startswith((NOTHING, STILLBORN, "not tried"))


def summed_up(results: dict[str, str]) -> int:
    """Print what became of the mutants; gives the exit code."""
    for suffix, what in ((".sql", "models"), (".py", "estimates, cleaning, linking")):
        here = {name: verdict for name, verdict in results.items() if f"{suffix}:" in name}
        alive = [name for name, verdict in here.items() if counts(verdict)]
        left = [name for name in alive if here[name].startswith(SURVIVED)]
        share = f", {1 - len(left) / len(alive):.0%} killed" if alive else ""
        print(f"{what}: {len(here)} mutants, {len(alive)} that change a figure or are tried by tests{share}")
        for verdict, number in Counter(verdict.split(":")[0] for verdict in here.values()).most_common():
            print(f"  {number:5} {verdict}")
        alone = Counter(verdict for name, verdict in here.items() if verdict.startswith("check: "))
        for verdict, number in sorted(alone.items()):
            print(f"        {number:3} {verdict}")
        for name in sorted(left):
            print(f"  survived: {name}")
    return int(any(verdict.startswith(SURVIVED) for verdict in results.values()))


if __name__ == "__main__":
    sys.exit(main())
