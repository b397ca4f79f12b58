"""Everything that can be opened behind a figure, a mark or a row: one entry a kind, one dialog for all."""

import re
from collections.abc import Callable
from contextlib import suppress
from datetime import date
from inspect import signature
from typing import Any

import polars as pl
import streamlit as st

from dashboard import data, links, widgets, words
from dashboard.sections import mending, piece_cost_lines
from dashboard.verbatim import verbatim
from dashboard.view_context import Page
from dashboard.widgets import Column

GONE = "Nothing of that name is on record: what stood there has changed since, or the address was never one of ours."

NO_NAME = (KeyError, TypeError, ValueError)
"""How what an address names is found not to be there: no such name, not so many parts, no day or number."""

LONGEST_TITLE = 100

EVER = ("0001-01-01", "9999-12-31")

JUDGED = (
    Column("piece", "Piece", opens="pieces?piece"),
    Column("product", "Product"),
    Column("species", "Species"),
    Column("finish", "Finish"),
    Column("channel", "Channel"),
    Column("stage", "Stage"),
    Column("month", "Done", lambda day: words.DASH if day is None else f"{day:%Y-%m}"),
    Column("reworked", "Came back"),
    Column("scrapped", "Scrapped"),
)


def show(page: Page) -> None:
    """Open what the address names, in a dialog; closing it takes it out of the address."""
    wanted = st.query_params.get(links.OPEN)
    if wanted:
        st.dialog(_title(page, wanted), width="large", on_dismiss=links.close)(_body)(page, wanted)


def _title(page: Page, wanted: str) -> str:
    kind, told = links.target_parts(wanted)
    if kind == "aside":
        with suppress(*NO_NAME):
            row = _set_aside(page, *told)
            return verbatim(f"Mend {words.place(row['file'], row['sheet'], row['row'], row.get('occurrence') or 0)}")
    return "What stands behind it"


def _body(page: Page, wanted: str) -> None:
    kind, told = links.target_parts(wanted)
    try:
        shows = KINDS[kind]
        signature(shows).bind(page, *told)
        shows(page, *told)
    except NO_NAME:  # an address that somebody typed, or of other records
        widgets.say(GONE)


def _day(text: str) -> date:
    if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
        raise ValueError("not a day as addresses have it")
    return date.fromisoformat(text)


def _number(text: str) -> int:
    if not re.fullmatch(r"[0-9]{1,18}", text):
        raise ValueError("not a number as addresses have it")
    return int(text)


def _title_of(text: str) -> str:
    """What an address calls the thing that it opens: words, as our own links have them."""
    if len(text) > LONGEST_TITLE or not re.fullmatch(r"[\w ,.:()&/+×–-]+", text):
        raise ValueError("not a title as addresses have it")
    return text


def _records(page: Page, found: pl.DataFrame, what: str) -> None:
    if not found.height:
        raise KeyError(what)
    widgets.records(page, found, what)


def _end(text: str) -> date:
    """The last day of the month that a day lies in."""
    return widgets.last_day(_day(text))


def _pieces(page: Page, found: pl.DataFrame, what: str) -> None:
    if not found.height:
        raise KeyError(what)
    widgets.say(f"The pieces behind {what}: {words.count(found.height, 'piece')}.", quiet=True)
    columns = [
        *JUDGED,
        Column("units", "Units", number=True),
        Column("unit_cost_cents", "Cost", page.money, number=True),
        Column("predicted_10_cents", "Predicted, four in five from", page.money, number=True),
        Column("predicted_50_cents", "likely", page.money, number=True),
        Column("predicted_90_cents", "to", page.money, number=True),
        Column("cost_cents", "Cost", page.money, number=True),
        Column("price_cents", "Price each", page.money, number=True),
        Column("rework_cents", "Rework", page.money, number=True),
        Column("scrap_cents", "Scrap", page.money, number=True),
    ]
    widgets.table(page, found, columns, "pieces-behind", shown=15, key="-behind")


def _layer(page: Page, piece: str, layer: str) -> None:
    if layer not in page.book.piece_layers(piece)["layer"]:
        raise KeyError(layer)
    piece_cost_lines.show(page, piece, layer, key="-behind")


def _aside(page: Page, file: str, sheet: str, row: str, occurrence: str = "0") -> None:
    mending.row(data.shop_folder(), _set_aside(page, file, sheet, row, occurrence))


def _set_aside(page: Page, file: str, sheet: str, row: str, occurrence: str = "0") -> dict[str, Any]:
    """The row that is set aside there. Raises `KeyError` where none is, or none any more."""
    found = page.book.aside(file, sheet, _number(row), _number(occurrence))
    if not found.height:
        raise KeyError(file)
    return found.row(0, named=True)


def _word(page: Page, vocabulary: str, word: str) -> None:
    found = page.book.word_records(vocabulary, word)
    if not found.height:
        raise KeyError(word)
    widgets.say(
        f"Say in shop.toml, under [words.{vocabulary}], what “{word}” means, as another word that is known; or mend it "
        "in the rows below, each with its file."
    )
    widgets.records(page, found, f"“{word}”")


def _tag(page: Page, record: str, field: str, tag: str) -> None:
    found = page.book.tag_records(record, field, tag)
    if not found.height:
        raise KeyError(tag)
    widgets.say(f"{tag} leads nowhere: put it on record, or mend it in the rows below, each with its file.")
    widgets.records(page, found, tag)


def _line(page: Page, month: str, lines: str, layers: str, what: str) -> None:
    found = page.book.month_records(_day(month), _day(month), _list(lines), _list(layers))
    _records(page, found, f"{_title_of(what)} in {words.month(_day(month))}")


def _two_months(page: Page, month: str, other: str, lines: str, layers: str, part: str) -> None:
    found = page.book.month_records(_day(month), _day(other), _list(lines), _list(layers))
    _records(page, found, f"“{_title_of(part)}”, of {words.month(_day(other))} and {words.month(_day(month))}")


def _list(text: str) -> list[str]:
    return [_title_of(name) for name in text.split("|")] if text else []


def _resin(page: Page, item: str, step: str, first: str, last: str, what: str) -> None:
    _records(page, page.book.resin_records(item, step, _day(first), _day(last)), f"“{_title_of(what)}” of {item}")


def _pours(page: Page, resin: str, purpose: str, size: str) -> None:
    said = "pours" if purpose == "all" else f"pours for {purpose}"
    said += "" if resin == "all" else f" of {resin}"
    said += "" if size == "all" else f" that needed {size}"
    _records(page, page.book.pour_records(resin, purpose, size), f"the {said}, by what was mixed beyond the need")


def _held(page: Page, month: str, stage: str) -> None:
    if stage == "materials":
        _records(page, page.book.shelf_records(_end(month)), f"what lay on the shelf at the end of {month[:7]}")
    else:
        found = page.book.held(_day(month)).filter(pl.col("stage") == stage)
        _pieces(page, found, f"“{stage}” at the end of {words.month(_day(month))}")


KINDS: dict[str, Callable[..., Any]] = {
    "row": lambda page, row_id: _records(page, page.book.record(_number(row_id)), "it"),
    "rows": lambda page, *row_ids: _records(page, page.book.record(*map(_number, row_ids)), "it"),
    "lot": lambda page, lot_id: _records(page, page.book.lot_records(_number(lot_id)), "this lot"),
    "flow": lambda page, flow: _records(page, page.book.flow_records(flow), flow),
    "layer": _layer,
    "line": _line,
    "months": _two_months,
    "cash": lambda page, month, line: _records(page, page.book.cash_records(_day(month), line), f"“{line}”"),
    "event": lambda page, event: _records(page, page.book.event_records(event), event),
    "sold": lambda page, factor, level, first=EVER[0], last=EVER[1]: _records(
        page, page.book.sold_records(factor, level, _day(first), _day(last)), f"the sales of {level}"
    ),
    "resin": _resin,
    "pours": _pours,
    "wood": lambda page, factor, level: _records(page, page.book.wood_records(factor, level), f"the lots of {level}"),
    "judged": lambda page, factor, level: _pieces(page, page.book.judged(factor, level), f"{factor} {level}"),
    "between": lambda page, first, last: _pieces(
        page, page.book.judged_between(_day(first), _day(last)), f"the months {first[:7]} to {last[:7]}"
    ),
    "found": lambda page, defect, found_at, cause: _records(
        page, page.book.found_records(defect, found_at, cause), f"{defect}, found at {found_at}, cause {cause}"
    ),
    "hours": lambda page, day: _records(page, page.book.hours_records(_day(day)), f"the hours of {day}"),
    "unplaced": lambda page, operation: _records(page, page.book.unplaced_hours(operation), f"{operation} of no piece"),
    "made": lambda page, product, part: _records(
        page, page.book.made_records(product, part), f"every {product} made so far" + _of(part)
    ),
    "waited": lambda page, product, days: _pieces(
        page, page.book.waited(product, _number(days)), f"a {product} that waited {days} days"
    ),
    "predicted": lambda page, factor, level: _pieces(page, page.book.predicted(factor, level), f"the score: {level}"),
    "held": _held,
    "file": lambda page, file, sheet: _records(page, page.book.file_records(file, sheet), f"{file} {sheet}".strip()),
    "word": _word,
    "tag": _tag,
    "aside": _aside,
}
"""What can be opened: the kind in the address → what shows it, of a page and the parts of its address."""


def _of(part: str) -> str:
    return "" if part == "all" else f", {part}"
