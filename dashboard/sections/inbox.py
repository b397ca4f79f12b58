"""Dropping files in, what the tool makes of them, and settling what their columns are."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import polars as pl
import streamlit as st

from dashboard import widgets, words
from dashboard.fields import Offers, choice_of, offer, one_of
from dashboard.refreshing import attempt, done, fault, say_what_was_done
from dashboard.verbatim import verbatim
from pipeline.pages import actions
from pipeline.records import RECORDS

SKIP, NONE = "nothing: skip it", "not needed"
PLACE = "inbox"
"""Where on the page it is said what became of a dropped file."""

HOW = {
    "mapping file": "as it was settled",
    "canonical": "its headings are the names of the fields",
    "suggested": "its columns are clear",
    "": "it asks: settle it below",
    "unmapped": "it asks: settle it above",
    "ignored": "passed over",
    "unreadable": "it can't be read",
    "mends": "it mends rows of others",
}
"""How a file is understood, in words."""

MONEY_OF = {"price": "of each, before tax: where two cost 62 together, 31 must stand there."}
"""What is easily taken for something else, said beside the field."""

ORDERS = {"as the dates show": "", "year first": "year", "day first": "day", "month first": "month"}
MARKS = {"as the numbers show": "", "12.50": ".", "12,50": ","}


def drop(folder: Path) -> None:
    """A place to drop files; each goes to the inbox, and what is made of it is shown. What is in is listed no more."""
    widgets.part("Drop in a file")
    suffixes, most = actions.file_limits()
    times = st.session_state.setdefault("drops", 0)
    files = st.file_uploader(
        "Receipts, hours, sales … as they are", suffixes, True, key=f"drop-{times}", max_upload_size=most // 2**20
    )
    if files:
        _take(folder, files)
        st.session_state["drops"] = times + 1  # an empty field in its place: another drop begins anew
        st.rerun(scope="app")
    for what, mend in st.session_state.get("not taken", ()):
        fault(what, mend)
    for path in dict.fromkeys(st.session_state.get("dropped", ())):
        widgets.say(f"It is in your shop as {path}. Below stands what the tool makes of it; your file stays as it is.")
        _again(folder, path)
    say_what_was_done(PLACE)


def _take(folder: Path, files: list[Any]) -> None:
    """Put the files into the inbox and begin a refresh; keep what is to be said of them."""
    taken: list[str] = []
    refused: list[tuple[str, str]] = []
    for file in files:
        try:
            taken.append(actions.drop_file(folder, file.name, file.getvalue()))
        except actions.UserError as error:
            refused.append((error.what, error.mend))
    if taken:
        st.session_state["settled next"] = taken[-1]
        try:
            actions.start_refresh(folder)
        except actions.UserError as error:
            refused.append((error.what, error.mend))
    st.session_state["dropped"], st.session_state["not taken"] = taken, refused


def _again(folder: Path, path: str) -> None:
    """Another file of a name that the inbox has already: both count, unless it takes the earlier one's place."""
    first = actions.earlier_file(folder, path)
    if not first:
        return
    widgets.say(f"{first} was there already, and rows of both count. Is this the same file, brought up to date?")
    if st.button(f"Put it in the place of {verbatim(first)}", key=f"again-{path}") and attempt(
        lambda: actions.replace_earlier(folder, path)
    ):
        st.session_state["dropped"] = [first if known == path else known for known in st.session_state["dropped"]]
        st.session_state["settled next"] = first
        done(PLACE, f"{first} is the new file now, read as it was settled; the earlier one is kept and counts no more.")
        st.rerun(scope="app")


def to_settle(files: pl.DataFrame) -> bool:
    """Whether a file waits to be settled, or was dropped in just now and is to be looked at."""
    return bool(_asked(files) or st.session_state.get("dropped"))


def _asked(files: pl.DataFrame) -> list[str]:
    return files.filter(pl.col("how") == "unmapped")["file"].unique(maintain_order=True).to_list()


def settle(folder: Path, files: pl.DataFrame) -> None:
    """What the tool makes of a file of the inbox, with its mapping to be settled by drop-downs."""
    known = _empty_names_last(actions.inbox_files(folder), files)
    if asked := _asked(files):
        widgets.say(f"{words.count(len(asked), 'file')} still to be settled: {', '.join(asked[:5])}.")
    if not known:
        widgets.say("The inbox is empty.", quiet=True)
        return
    options = list(dict.fromkeys([*(file for file in asked if file in known), *known]))
    if st.session_state.get("settled next") in options:
        st.session_state["settle"] = st.session_state.pop("settled next")
    widgets.choosable("settle", options)
    file = st.selectbox(
        "What the tool makes of a file of the inbox", options, None, key="settle", placeholder="Choose a file"
    )
    if not file:
        return
    try:
        tables = actions.propose(folder, file)
    except actions.UserError as error:
        fault(error.what, error.mend)
        return
    table = tables[0]
    if len(tables) > 1:
        sheets = {made.sheet or "the first": made for made in tables}
        widgets.choosable(f"sheet-{file}", sheets, next(iter(sheets)))
        table = sheets[st.selectbox("Sheet", list(sheets), key=f"sheet-{file}")]
    _made(table)
    _settling(folder, table)


def empty_last(files: pl.DataFrame) -> pl.DataFrame:
    """The tables of files, those of a file without any row, such as the entry workbook of a new shop, at the end."""
    return files.sort(pl.col("rows").sum().over("file") == 0, maintain_order=True)


def _empty_names_last(known: list[str], files: pl.DataFrame) -> list[str]:
    """The files of the inbox, the newest first, and those without any row behind them."""
    empty = set(files.group_by("file").agg(pl.col("rows").sum()).filter(pl.col("rows") == 0)["file"])
    return sorted(known, key=lambda file: file in empty)


def _made(made: Any) -> None:
    named = made.mapping.record
    record = RECORDS[named].meaning.rstrip(".").lower() if named else "nothing that is read"
    widgets.say(
        f"{words.count(made.rows, 'row')}, each {record} ({named or 'skipped'}); "
        f"{HOW.get(made.how, made.how)}. {made.preview.loaded:,} would be in the figures."
    )
    for question in made.questions:
        widgets.say(f"Open: {question.ask}")
    if made.how and not made.missing:  # else the drop-downs below say it
        _faults(made)


def _faults(made: Any) -> None:
    if made.missing:  # that is the fault of every row
        named = ", ".join(map(words.field, made.missing))
        widgets.say(f"Still needed: {named}. Choose a column for it, or say what all rows have.")
        return
    for row, what in made.preview.faults:
        widgets.say(f"Row {row} would be set aside. {what}", quiet=True)
    for note in made.preview.notes:
        widgets.say(note)


def _settling(folder: Path, made: Any) -> None:
    """The drop-downs: the record first, then a field for each column, with what stands in it."""
    box = st.expander("Settle what its columns are", expanded=not made.how, key=f"settling-{made.file}-{made.sheet}")
    with box:
        key = f"{made.file}-{made.sheet}"
        options = [SKIP, *RECORDS]
        place = options.index(made.mapping.record) if made.mapping.record in options else 0
        record = st.selectbox("A row of it is", options, place, format_func=_record_words, key=f"record-{key}")
        if record == SKIP:
            _save(folder, made, lambda: actions.try_mapping(folder, made.file, made.sheet, ""))
            return
        if record != made.mapping.record:
            try:
                made = next(m for m in actions.propose(folder, made.file, record) if m.sheet == made.sheet)
            except actions.UserError as error:
                fault(error.what, error.mend)
                return
        columns = _columns(made, record, f"{key}-{record}")
        constants = _constants(folder, made, record, columns, f"{key}-{record}")
        with widgets.filters():
            order = ORDERS[
                st.selectbox("Dates", list(ORDERS), _at(ORDERS, made.mapping.date_order), key=f"order-{key}")
            ]
            mark = MARKS[st.selectbox("Decimals", list(MARKS), _at(MARKS, made.mapping.decimal), key=f"mark-{key}")]
        try:
            answers = {"columns": columns, "constants": constants, "date_order": order, "decimal": mark}
            tried = actions.try_mapping(folder, made.file, made.sheet, record, **answers)
        except actions.UserError as error:
            fault(error.what, error.mend)
            return
        widgets.say(f"So read, {tried.preview.loaded:,} of {words.count(tried.rows, 'row')} would be in the figures.")
        _faults(tried)
        _save(folder, made, lambda: tried)


def _constants(folder: Path, made: Any, record: str, columns: dict[str, str], key: str) -> dict[str, str]:
    """Field → the text of all rows, asked for where a needed field has no column."""
    known = actions.field_words(folder, record)
    found: dict[str, str] = {}
    offers: Offers = {}
    for field in RECORDS[record]:
        text = made.mapping.constants.get(field.name, "") if made.mapping.record == record else ""
        if not text and (field.name in columns or not field.required):
            continue
        label = f"{field.name.replace('_', ' ').capitalize()}: the same in all rows"
        named: dict[str, Any] = {"help": field.meaning, "key": f"constant-{key}-{field.name}"}
        if field.choices:
            chosen = choice_of(label, field.choices, text, offers, {}, placeholder="Choose", **named)
        else:
            words = known.get(field.name, [])
            holder = "Choose, or type your own" if words else "Where no column says it"
            chosen = one_of(label, words, text, offers, {}, placeholder=holder, **named)
        found[field.name] = chosen
    offer(offers, f"constants-{key}")
    return found


def _columns(made: Any, record: str, key: str) -> dict[str, str]:
    """Field → header, as chosen. Columns about buyers have no choice: no field takes them."""
    fields = [NONE, *(field.name for field in RECORDS[record])]
    found: dict[str, str] = {}
    for guess in made.columns:
        header = guess.header or guess.column
        if guess.why == "private":
            widgets.say(f"“{header}” is about a buyer and is never stored.", quiet=True)
            continue
        shown = f": {', '.join(guess.samples)}" if guess.samples else ""
        label = f"“{header}”{shown}"[:120]
        place = fields.index(guess.field) if guess.field in fields else 0
        chosen = st.selectbox(
            verbatim(label), fields, place, format_func=words.field, key=f"column-{key}-{header}",
            help=_help(guess, record),
        )  # fmt: skip
        if chosen in MONEY_OF:
            widgets.say(f"{chosen.capitalize()}: {MONEY_OF[chosen]}", quiet=True)
        if chosen != NONE:
            # the later of two columns for one field is said by the saving, not lost here
            found[chosen if chosen not in found else f"{chosen} "] = header
    twice = [name for name in found if name.endswith(" ")]
    if twice:
        fault(f"Two columns are taken for {words.field(twice[0].strip())}.", "Leave one of them out.")
    return {name.strip(): header for name, header in found.items()}


def _help(guess: Any, record: str) -> str:
    proposed = guess.field and guess.confidence and guess.why != "settled"
    sure = f"{100 * guess.confidence:.0f} % sure, by its {guess.why}. " if proposed else ""
    meaning = next((f.meaning for f in RECORDS[record] if f.name == guess.field), "")
    return f"{sure}{meaning}" or "No field was found for it."


def _record_words(record: str) -> str:
    return record if record == SKIP else f"{RECORDS[record].meaning.rstrip('.').lower()} ({record})"


def _at(choices: dict[str, str], value: str) -> int:
    return list(choices.values()).index(value) if value in choices.values() else 0


def _save(folder: Path, made: Any, tried: Callable[[], Any]) -> None:
    """The button that saves the mapping as it was tried."""
    if not st.button("Save it and refresh", type="primary", key=f"save-{made.file}-{made.sheet}"):
        return
    if attempt(lambda: actions.save_mapping(folder, tried())):
        attempt(lambda: actions.start_refresh(folder))
        st.rerun(scope="app")
