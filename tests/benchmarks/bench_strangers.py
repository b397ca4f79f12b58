"""How much of piles that strangers wrote is in the books at the first refresh, and after all questions are answered.

    python -m tests.benchmarks.bench_strangers PATH… [--show 40] [--answer]

Each PATH holds `inbox/` and `truth.jsonl` (`tests/piles/strangers.py` says how it is written), and a `shop.toml` where
there is one; else the shop is new, of the currency that `about.md` names. With `--answer` a program answers each
question: it sees the question and its choices alone, and takes the one by which most rows come to be what the truth
says, as a maker would who knows the rows. What is to be typed is skipped. `--show`: the most frequent reasons of what
is not right; leave it out for a pile that is held out.
"""

import argparse
import re
import shutil
import sys
import tempfile
from collections import Counter
from pathlib import Path

from pipeline import shop as shops
from pipeline.asking.answer import answer
from pipeline.database.open_database import opened
from pipeline.errors import UserError
from pipeline.refresh.refresh import refresh
from tests.piles.strangers import ENDS, Judged, Place, TrueRow, by_reason, judged, truth_of

ROUNDS, MOST_CHOICES = 4, 12
COLUMNS = (*ENDS, "noise")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("paths", nargs="+", type=Path)
    parser.add_argument("--show", type=int, default=0)
    parser.add_argument("--answer", action="store_true")
    arguments = parser.parse_args()
    for path in arguments.paths:
        with tempfile.TemporaryDirectory() as scratch:
            _pile(path, Path(scratch), arguments)


def _pile(path: Path, scratch: Path, arguments: argparse.Namespace) -> None:
    folder, truth = made(path, scratch / "shop"), truth_of(path / "truth.jsonl")
    refresh(shops.load(folder))
    asked = questions(folder)
    found = judged(shops.load(folder), truth)
    files = len({place[0] for place in truth})
    print(f"== {path.name}: {files} files, {len(found.ends)} rows of records; first refresh")
    _table(found, arguments.show)
    print(f"{len(asked)} questions, {len(asked) / files:.2f} a file")
    if arguments.show:
        for ask, labels in asked.values():
            print(f"  ? {ask}  [{' | '.join(labels)[:160]}]")
    _reasons(found, arguments.show)
    if arguments.answer:
        given = answered(folder, truth, scratch, bool(arguments.show))
        print(f"== {path.name}: after {given} answers")
        found = judged(shops.load(folder), truth)
        _table(found, arguments.show)
        _reasons(found, arguments.show)


def made(path: Path, folder: Path) -> Path:
    """A new shop with the pile's files."""
    folder.mkdir(parents=True)
    shutil.copytree(path / "inbox", folder / "inbox")
    if (path / "shop.toml").exists():
        shutil.copy(path / "shop.toml", folder)
        return folder
    about = (path / "about.md").read_text(encoding="utf-8")
    currency = re.search(r"\b(USD|CAD|AUD|NZD|GBP|EUR|CHF)\b", about)
    days = sorted(re.findall(r'"(?:date|started)": "(\d{4}-\d\d-\d\d)"', (path / "truth.jsonl").read_text("utf-8")))
    start = f"{days[0][:7]}-01" if days else "2025-01-01"
    (folder / "shop.toml").write_text(f'currency = "{currency[1] if currency else "USD"}"\nstart = {start}\n')
    return folder


def questions(folder: Path) -> dict[str, tuple[str, list[str]]]:
    """The open questions by name, in the order in which they are asked, with the words of each and its choices."""
    with opened(folder) as con:
        asked = con.execute("select question, ask from intake.question order by position").fetchall()
        choices = con.execute("select question, label from intake.question_choice order by question, choice").fetchall()
    return {name: (ask, [label for other, label in choices if other == name]) for name, ask in asked}


def answered(folder: Path, truth: dict[Place, list[TrueRow]], scratch: Path, show: bool) -> int:
    """Answer what is asked until nothing new is; gives how many answers."""
    given, done = 0, set()
    for _ in range(ROUNDS):
        new = {name: said for name, said in questions(folder).items() if name not in done}
        if not new:
            break
        for name, (ask, labels) in new.items():
            done.add(name)
            best = _best(folder, truth, scratch, name, labels)
            if show:
                print(f"  {given + 1}. {ask[:110]} → {labels[best - 1] if best else '(skipped)'}")
            if best:
                answer(folder, name, best)
                given += 1
        refresh(shops.load(folder))
    return given


def _best(folder: Path, truth: dict[Place, list[TrueRow]], scratch: Path, name: str, labels: list[str]) -> int:
    """The choice by which most rows are true, the first of several; 0 where it is to be typed."""
    scores = {}
    for choice in range(1, min(len(labels), MOST_CHOICES) + 1):
        trial = scratch / "trial"
        shutil.rmtree(trial, ignore_errors=True)
        shutil.copytree(folder, trial)
        try:
            answer(trial, name, choice)
        except UserError:
            continue
        scores[choice] = judged(shops.load(trial), truth).score()
    return max(scores, key=lambda choice: (scores[choice], -choice)) if scores else 0


def _table(found: Judged, show: int) -> None:
    print(f"{'':34}{''.join(f'{name:>9}' for name in COLUMNS)}")
    for file, counts in found.by_file() if show else ():
        print(f"{file[:33]:34}{''.join(f'{counts[name]:9}' for name in COLUMNS)}")
    whole = Counter(found.ends.values()) | Counter({"noise": len(found.loaded_noise)})
    print(f"{'all':34}{''.join(f'{whole[name]:9}' for name in COLUMNS)}")
    print(f"{'share':34}{''.join(f'{whole[name] / max(1, len(found.ends)):9.1%}' for name in COLUMNS)}")


def _reasons(found: Judged, show: int) -> None:
    for rows, text in by_reason(found, {*COLUMNS} - {"right"})[:show]:
        print(f"{rows:6} {text}")


if __name__ == "__main__":
    sys.exit(main())
