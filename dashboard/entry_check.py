"""What must be asked before an entry is logged: a tag that is taken, a word that is not on record, a size without unit.

The same for the page and for the phone. Whether a refresh would read the entry is for the log itself to say.
"""

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path

from dashboard.log_fields import label
from dashboard.options import FormOptions
from pipeline.pages import actions
from pipeline.records import RECORDS

BETWEEN = "; "
_DAY_S = 24 * 3600


@dataclass(frozen=True)
class Question:
    """A question about an entry: what, and what to do; answers as texts by field; the field and the text it is about.

    `may_stand`: whether that text may be logged as it stands.
    """

    what: str
    mend: str
    answers: tuple[dict[str, str], ...] = ()
    field: str = ""
    text: str = ""
    may_stand: bool = False


def parts(text: str) -> list[str]:
    """`T-1; T-2, T-3` → each of them, once."""
    return list(dict.fromkeys(part for piece in re.split("[;,]", text) if (part := piece.strip())))


def taken_tag(cells: Mapping[str, str], taken: Mapping[str, Collection[str]]) -> Question | None:
    """A new tag that another record has already; `taken`: those by field."""
    for name, tags in taken.items():
        tag = cells.get(name, "").strip().upper()
        if tag in tags:
            return Question(
                f"{tag} is a {name} already.",
                "Give this one a tag of its own; what changed about the other is mended in its row.",
                field=name,
            )
    return None


def as_known(
    folder: Path, record: str, cells: Mapping[str, str], known: FormOptions, sure: Collection[tuple[str, str]] = ()
) -> tuple[dict[str, str], Question | None]:
    """The cells with tags as they are on record, and what must be asked about a word that isn't.

    `sure`: fields and texts of which somebody has said that they are meant as they stand.
    """
    found = dict(cells)
    as_said = {name: tag for tag, name in known.names.items()}
    for field in RECORDS[record]:
        words = known.words.get(field.name, [])
        if field.kind not in ("tag", "tags", "word") or not words or not cells.get(field.name):
            continue
        several = parts(cells[field.name]) if field.kind == "tags" else [cells[field.name]]
        for place, text in enumerate(several):
            if text in as_said:
                several[place] = text = as_said[text]
            near = [] if text in words else actions.likely_meant(folder, record, field.name, text, words)
            if len(near) == 1 and field.kind != "word":
                several[place] = near[0]
            elif near and (field.name, text) not in sure:
                return found, _not_on_record(label(field), field.name, several, place, near[:3])
        found[field.name] = BETWEEN.join(several)
    return found, None


def _not_on_record(said: str, name: str, several: list[str], place: int, near: list[str]) -> Question:
    text = several[place]
    answers = [{name: BETWEEN.join([*several[:place], word, *several[place + 1 :]])} for word in near]
    return Question(
        f"“{text}” is not on record. Is {' or '.join(near)} meant?",
        f"Choose it under “{said}”, or press again to log “{text}” as it stands.",
        tuple(answers),
        name,
        text,
        may_stand=True,
    )


def without_unit(folder: Path, record: str, cells: Mapping[str, str]) -> Question | None:
    """A size, or more work than a day has, that stands without a unit, with both readings of it.

    Of a size the shop's usual unit comes first.
    """
    if record == "hours" and (asked := _long_work(cells.get("hours", ""))):
        return asked
    found = actions.sizes_without_unit(folder, record, cells)
    if not found:
        return None
    bare = {RECORDS[record].field(name): cells[name].strip() for name in found}
    shop = actions.shop_settings(folder)["shop"][0]
    said = ", ".join(f"{label(field)} {text}" for field, text in bare.items())
    units = ("in", "mm") if shop["units"] == "us" else ("mm", "in")
    answers = [{field.name: f"{text} {unit}" for field, text in bare.items()} for unit in units]
    mend = "Choose one, and send the form again; nothing was logged yet."
    return Question(f"In what unit is it: {said}?", mend, tuple(answers))


def _long_work(text: str) -> Question | None:
    """`90` is read as hours, and few mean so many."""
    seconds = actions.seconds_of("hours", "hours", text) if re.fullmatch(r"\d+([.,]\d+)?", text) else None
    if not seconds or seconds <= _DAY_S:
        return None
    mend = "Choose one, and send the form again; nothing was logged yet."
    return Question(f"How long is {text}?", mend, ({"hours": f"{text} min"}, {"hours": f"{text} h"}), "hours", text)
