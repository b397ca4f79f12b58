"""What the shop floor's server does for a paired phone: tells what runs and what forms can offer, and takes entries.

A message is `{"id", "action", …}`: its id was made on the phone, and what it asks for is done once, however often it is
sent. Everything in it is checked as if a stranger had written it.
"""

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import asdict, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from dashboard import entry_check
from dashboard.entry_check import Question
from dashboard.floor import untold
from dashboard.floor.offers import Offers
from dashboard.last_work import TIMED, filled_in, last_timer, work_in_words
from dashboard.log_fields import KINDS
from dashboard.options import FormOptions
from pipeline.pages import actions, from_the_floor
from pipeline.pages.from_the_floor import UnreadableError, WrittenBeforeError
from pipeline.records import RECORDS

DONE, ASKS, REFUSED, NONSENSE = 200, 409, 422, 400

LONGEST_AGO_S = 7 * 24 * 3600
LONGEST_CELL, MOST_SURE, MOST_WORDS = 500, 50, 60
THROWN_AWAY = "a timer was thrown away, and not logged"
ID = re.compile(r"[0-9a-f]{32}")
_UNSEEN = re.compile(r"[\x00-\x1f\x7f-\x9f\ud800-\udfff]")
"""Signs that steer a screen, and halves of signs: no file of the log can hold these."""

OFFERED = ("tag", "tags", "word", "unit")
"""Kinds of fields that offer words on a phone."""

Told = tuple[int, dict[str, Any]]


class NonsenseError(ValueError):
    """A message that no page of ours sends."""


class Work:
    """The log of one shop, as far as a phone may use it."""

    def __init__(self, folder: Path) -> None:
        self._folder, self._offers = folder, Offers(folder)

    def warm(self) -> None:
        """Load what reading an entry needs: later, this process may open no file beside the log."""
        for record in KINDS.values():
            self._offers.of(record)
        actions.likely_meant(self._folder, "hours", "operation", "sanding", ["sanding"])

    def now(self) -> dict[str, Any]:
        """What runs, what ran last, what is filled in, and the words and tags that the forms offer.

        Raises `UnreadableError` where the settings or the log can't be read; it repeats nothing of them.
        """
        try:
            return self._now()
        except actions.UserError:
            raise UnreadableError from None

    def _now(self) -> dict[str, Any]:
        state, moment = actions.log_state(self._folder), actions.log_now(self._folder)
        offered = {record: self._offers.of(record) for record in KINDS.values()}
        of_hours = offered["hours"]
        again = untold.told_cells("hours", last_timer(state) or {}, of_hours)
        fill = filled_in(state, of_hours.words.get("person", []))
        return {
            "day": f"{moment:%Y-%m-%d}",
            "timers": [_running(timer, moment, of_hours) for timer in state.timers],
            "again": {"said": work_in_words(again, of_hours), "cells": again} if again.get("operation") else None,
            "fill": {name: "" if untold.names_price(text, of_hours.currency) else text for name, text in fill.items()},
            "words": {record: _words(record, known) for record, known in offered.items()},
            "suggested": {"pours": {"pour": offered["pours"].examples.get("pour", "")}},
            "written": [untold.line(entry, of_hours) for entry in state.entries[-10:][::-1] if _is_of(entry, moment)],
        }

    def do(self, message: Any) -> Told:
        """Do what a message asks for, once. Raises `NonsenseError` for one that no page of ours sends, and
        `UnreadableError` where the shop can't be read just now: then it is worth sending again."""
        given = _Message(message)
        todo: dict[str, Callable[[_Message], Told]] = {
            "entry": self._enter,
            "start": self._start,
            "stop": self._stop,
            "drop": self._drop,
        }
        if given.action not in todo:
            raise NonsenseError("action")
        try:
            from_the_floor.refuse_twice(self._folder, given.id)
            return todo[given.action](given)
        except WrittenBeforeError as before:
            if before.entry:
                return DONE, untold.line(before.entry, self._offers.of("hours"))
            return DONE, {"said": THROWN_AWAY if given.action == "drop" else ""}
        except UnreadableError:
            raise
        except actions.UserError as error:
            return REFUSED, {"what": error.what, "mend": error.mend}

    def _enter(self, given: "_Message") -> Told:
        record = given.text("record")
        if record not in KINDS.values():
            raise NonsenseError("record")
        known, cells = self._offers.of(record), given.cells({field.name for field in RECORDS[record]})
        cells, asked = _numbers(record, cells)
        asked = asked or _taken(record, cells, known, given.text("suggested"))
        if not asked:
            cells, asked = entry_check.as_known(self._folder, record, cells, known, given.sure())
        asked = asked or entry_check.without_unit(self._folder, record, cells)
        if asked:
            return ASKS, _question(asked)
        entry = from_the_floor.enter(self._folder, record, cells, given.id)
        return DONE, untold.line(entry, known)

    def _start(self, given: "_Message") -> Told:
        known = self._offers.of("hours")
        cells, asked = entry_check.as_known(self._folder, "hours", given.cells(set(TIMED)), known, given.sure())
        if asked:
            return ASKS, _question(asked)
        timer = from_the_floor.start(self._folder, cells, given.id, given.ago_s)
        return DONE, {"said": f"{_work(timer, known)}; it runs since {timer.since[11:16]}"}

    def _stop(self, given: "_Message") -> Told:
        entry = from_the_floor.stop(self._folder, given.named("timer"), given.id, given.ago_s)
        return DONE, untold.line(entry, self._offers.of("hours"))

    def _drop(self, given: "_Message") -> Told:
        from_the_floor.drop(self._folder, given.named("timer"), given.id)
        return DONE, {"said": THROWN_AWAY}


class _Message:
    """A message of a phone; whatever is asked of it is there in its right shape, or it is nonsense."""

    def __init__(self, told: Any) -> None:
        if not isinstance(told, dict):
            raise NonsenseError("message")
        self._told = told
        self.id, self.action = self.named("id"), self.text("action")

    @property
    def ago_s(self) -> float:
        """How long ago it was said, by the phone's own clock, which may tell another time than ours."""
        told = self._told.get("ago_s", 0)
        if isinstance(told, bool) or not isinstance(told, int | float) or not math.isfinite(told):
            raise NonsenseError("ago_s")
        if told > LONGEST_AGO_S:
            raise actions.UserError(
                "This was said more than a week ago.", mend="Log the work with the hours that it took."
            )
        return max(0.0, float(told))

    def text(self, name: str) -> str:
        told = self._told.get(name, "")
        if not isinstance(told, str) or len(told) > LONGEST_CELL:
            raise NonsenseError(name)
        return told

    def named(self, name: str) -> str:
        told = self.text(name)
        if not ID.fullmatch(told):
            raise NonsenseError(name)
        return told

    def cells(self, names: set[str]) -> dict[str, str]:
        told = self._told.get("cells")
        if not isinstance(told, dict) or not set(told) <= names:
            raise NonsenseError("cells")
        texts = {name: _UNSEEN.sub(" ", text).strip() for name, text in told.items() if isinstance(text, str)}
        if len(texts) < len(told) or any(len(text) > LONGEST_CELL for text in texts.values()):
            raise NonsenseError("cells")
        return {name: text for name, text in texts.items() if text}

    def sure(self) -> list[tuple[str, str]]:
        told = self._told.get("sure", [])
        if not isinstance(told, list) or len(told) > MOST_SURE:
            raise NonsenseError("sure")
        pairs = [tuple(pair) for pair in told if isinstance(pair, list) and len(pair) == 2]
        return [(name, text) for name, text in pairs if isinstance(name, str) and isinstance(text, str)]


def _taken(record: str, cells: Mapping[str, str], known: FormOptions, suggested: str) -> Question | None:
    if record == "pieces":
        return entry_check.taken_tag(cells, {"piece": known.taken["piece"]})
    if record != "pours":
        return None
    # a pour may have several rows; the tag that we suggested must not be of another one
    asked = entry_check.taken_tag(cells, {"pour": known.taken["pour"] & {suggested.upper()}})
    return replace(asked, answers=({"pour": known.examples["pour"]},)) if asked else None


def _numbers(record: str, cells: Mapping[str, str]) -> tuple[dict[str, str], Question | None]:
    """Numbers with a point, as the log's files have them. Where a mark may be one of thousands, it is asked about."""
    found = dict(cells)
    for field in RECORDS[record]:
        text = found.get(field.name, "")
        if field.kind not in ("money", "quantity") or not (bare := re.fullmatch(r"(-?)(\d+)[.,](\d+)", text)):
            continue
        sign, whole, part = bare.groups()
        if len(part) != 3:
            found[field.name] = f"{sign}{whole}.{part}"
        elif whole.strip("0") == "" or len(whole) > 3:
            found[field.name] = f"{sign}{whole}.{part}0"
        else:
            answers = ({field.name: f"{sign}{whole}.{part}0"}, {field.name: f"{sign}{whole}{part}"})
            mend = "Choose one; nothing was logged yet."
            return found, Question(f"How much is {text}?", mend, answers, field.name, text)
    return found, None


def _question(asked: Question) -> dict[str, Any]:
    return asdict(asked)


def _running(timer: Any, moment: datetime, known: FormOptions) -> dict[str, Any]:
    return {
        "id": timer.id,
        "since": timer.since[11:16],
        "seconds": timer.seconds(moment),
        "said": _work(timer, known),
    }


def _work(timer: Any, known: FormOptions) -> str:
    return work_in_words(untold.told_cells("hours", timer.cells, known), known)


def _words(record: str, known: FormOptions) -> dict[str, list[list[str]]]:
    fields = (field.name for field in RECORDS[record] if field.kind in OFFERED)
    return {name: [[word, known.said(word)] for word in known.words.get(name, [])[:MOST_WORDS]] for name in fields}


def _is_of(entry: Any, moment: datetime) -> bool:
    return bool(entry.at[:10] == f"{moment:%Y-%m-%d}")
