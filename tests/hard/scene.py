"""A small shop with one of everything that the tool writes for its maker, and each way in which it writes."""

import re
import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from pipeline import backups
from pipeline.asking import answer, goal
from pipeline.changing.entries import stand
from pipeline.changing.plan import LATER, WORD, Change, plan
from pipeline.database import closed_months, open_newest
from pipeline.pages import daylog, inbox
from pipeline.proposing import proposal
from pipeline.quoting import saved_quotes
from pipeline.shop import load, saved_settings

FORM_1 = Path(__file__).parents[1] / "shop" / "form_1"

MORE = {
    # a row to be mended, a word to be asked about, a file with a later copy, and one that no mapping knows
    "hours.csv": "date,person,operation,pieces,hours\nsoon,Ada,sanding,T-001,1:00\n",
    "more.csv": "date,item,quantity,unit,amount\n2026-02-01,zorbit,8,each,90.00\n",
    "till.csv": "date,channel,product,price\n2026-03-04,market,tray,40.00\n",
    "till (2).csv": "date,channel,product,price\n2026-03-04,market,tray,40.00\n2026-03-05,market,tray,41.00\n",
}
LAST_MONTH = date(2026, 1, 1)

HOURS = {"date": "2026-03-02", "hours": "1:00", "operation": "sanding"}
DROPPED = b"date,channel,product,price\n2026-03-09,market,tray,42.00\n"


def make(folder: Path) -> Path:
    """The shop's folder, without a database."""
    shutil.copytree(FORM_1, folder)
    for name, text in MORE.items():
        (folder / "inbox" / name).write_text(text, encoding="utf-8")
    return folder


Act = Callable[[Path], object]
Ready = Callable[[Path], Callable[[], object]]


@dataclass(frozen=True)
class Write:
    """A way in which the tool writes: what must have been done before, and the writing itself, made ready at first.

    `ready` gives a function without arguments, so that what is only read, in other processes too, is done before it.
    """

    ready: Ready
    before: Act = lambda _: None


def _log(folder: Path) -> Callable[[], object]:
    shop = load(folder)
    return lambda: daylog.add(shop, "hours", HOURS)


def _undo(folder: Path) -> Callable[[], object]:
    shop = load(folder)
    return lambda: daylog.undo(shop)


def _start(folder: Path) -> Callable[[], object]:
    shop = load(folder)
    return lambda: daylog.start(shop, {"operation": "sanding", "person": "Ada"})


def _sawing(folder: Path) -> object:
    return daylog.start(load(folder), {"operation": "sawing"})


def _timer(folder: Path) -> str:
    return next(timer.id for timer in daylog.state(load(folder)).timers if timer.cells["operation"] == "sawing")


def _stop(folder: Path) -> Callable[[], object]:
    shop, timer = load(folder), _timer(folder)
    return lambda: daylog.stop(shop, timer, {"note": "stopped"})


def _drop_timer(folder: Path) -> Callable[[], object]:
    shop, timer = load(folder), _timer(folder)
    return lambda: daylog.drop(shop, timer)


def _rejected(folder: Path) -> list[dict[str, Any]]:
    with open_newest(folder) as con:
        found = con.execute("from intake.rejected where file = 'inbox/hours.csv'")
        names = [column[0] for column in found.description or []]
        return [dict(zip(names, row, strict=True)) for row in found.fetchall()]


def _mend(folder: Path) -> Callable[[], object]:
    shop = load(folder)
    (row,) = inbox.to_mend(shop, _rejected(folder))
    return lambda: inbox.mend(shop, [row | {"date": "2026-03-01"}])


def _settings(change: Change) -> Callable[[Path], Callable[[], object]]:
    def ready(folder: Path) -> Callable[[], object]:
        planned = plan(stand(load(folder), (folder / "shop.toml").read_bytes()), change)
        return lambda: saved_settings.save(folder, planned.before, planned.after, planned.said)

    return ready


RAISE = Change(LATER, "person_rate", "Ada", typed={"from": "2026-04-01", "rate": "36"})
TAUGHT = Change(WORD, "species", typed={"word": "house wood", "meaning": "white oak"})


def _mapping(folder: Path) -> Callable[[], object]:
    shop = load(folder)
    columns = {"date": "date", "channel": "channel", "product": "product", "price": "price"}
    name = "inbox/till.csv"
    tried = proposal.settled(shop, folder / name, "", proposal.Answers("sales", columns=columns))
    return lambda: proposal.save(shop, tried)


QUOTE = {
    "on_date": "2026-05-01", "product": "tray", "quantity": 1, "predicted_10_cents": 9000,
    "predicted_50_cents": 11000, "predicted_90_cents": 14000,
}  # fmt: skip


def _question(folder: Path) -> str:
    with open_newest(folder) as con:
        found = con.execute("select question from intake.question where wants = '' order by position").fetchall()
    return str(found[0][0])


def _answer(folder: Path) -> Callable[[], object]:
    question = _question(folder)
    return lambda: answer.answer(folder, question, 1)


def _archive(folder: Path) -> Path:
    return folder.parent / "kept.zip"


WRITES: Mapping[str, Write] = {
    "an entry of the log": Write(_log),
    "an entry taken back": Write(_undo, lambda folder: daylog.add(load(folder), "hours", HOURS)),
    "an entry that was read taken back": Write(_undo),
    "a timer begun": Write(_start),
    "a timer ended": Write(_stop, _sawing),
    "a timer thrown away": Write(_drop_timer, _sawing),
    "a row mended": Write(_mend),
    "a raise": Write(_settings(RAISE)),
    "a word taught": Write(_settings(TAUGHT)),
    "a change taken back": Write(
        lambda folder: lambda: saved_settings.undo(folder), lambda folder: _settings(RAISE)(folder)()
    ),
    "a mapping": Write(_mapping),
    "a mapping over another": Write(
        _mapping, lambda folder: (folder / "mappings" / "till.toml").write_text('files = "till.csv"\nrest = "ask"\n')
    ),
    "a question answered": Write(_answer),
    "a goal": Write(lambda folder: lambda: goal.set_goal(folder, 2026, {"result": "9000"})),
    "a quote": Write(lambda folder: lambda: saved_quotes.save(folder, QUOTE, sheet="<p>{quote}</p>")),
    "a month closed": Write(lambda folder: lambda: closed_months.close(folder, LAST_MONTH)),
    "a file dropped": Write(lambda folder: lambda: inbox.drop(load(folder), "market.csv", DROPPED)),
    "a later copy in place": Write(
        lambda folder: lambda: inbox.replace_earlier(load(folder), "inbox/till (2).csv"),
    ),
    "a backup": Write(lambda folder: lambda: backups.back_up(folder, _archive(folder))),
}  # fmt: skip

_CHANGING = [
    (re.compile(rb"\b[0-9a-f]{32}\b"), b"#"),
    (re.compile(rb"\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d(\.\d+)?([+-]\d\d:\d\d|Z)?"), b"@"),
    (re.compile(rb"\b\d\d:\d\d(:\d\d)?\b"), b"@"),
    (re.compile(rb"\b0:\d\d:\d\d\b"), b"@"),
]


def view(folder: Path) -> dict[str, object]:
    """All that is the maker's as it counts: the files that a refresh reads, the log as it stands, the last change of
    the settings; ids and clocks left out."""
    shop = load(folder)
    seen: dict[str, object] = {}
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        own = path.relative_to(folder)
        if own.parts[0] == "database" or any(part.startswith(".") for part in own.parts) or own.suffix == ".before":
            continue
        if own.parts[0] == "quotes" and own.suffix == ".html" and not path.with_suffix(".json").exists():
            continue  # a sheet without its quote, which no refresh reads
        name = re.sub(r"page-2[\d-]{21,}", "page-@", own.as_posix())
        content = path.read_bytes()
        for pattern, instead in _CHANGING:
            content = pattern.sub(instead, content)
        seen[name] = content
    known = daylog.state(shop)
    seen["log"] = [(entry.record, entry.file, _cells(entry.cells)) for entry in known.entries]
    seen["timers"] = sorted(sorted(timer.cells.items()) for timer in known.timers)
    last = saved_settings.last_change(folder)
    seen["last change"] = last.said if last else None
    archive = _archive(folder)
    seen["archive"] = archive.exists()
    return seen


def _cells(cells: dict[str, str]) -> list[tuple[str, str]]:
    return sorted((name, text) for name, text in cells.items() if name not in ("started_at", "ended_at", "hours"))


def differing(one: dict[str, object], two: dict[str, object]) -> list[str]:
    """The names under which two views differ."""
    return sorted(name for name in {*one, *two} if one.get(name) != two.get(name))
