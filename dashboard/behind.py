"""Everything that can be opened behind a figure, a mark or a row: one entry a kind, one dialog for all."""

import re
from collections.abc import Callable
from datetime import date
from typing import Any

import polars as pl
import streamlit as st

from dashboard import data, opening, parts, words
from dashboard.page import Page
from dashboard.parts import Column
from dashboard.refreshing import verbatim
from dashboard.sections import mending, piece_layer

GONE = "Nothing stands behind this any more: the records have changed since."

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
    wanted = st.query_params.get(opening.OPEN)
    if wanted:
        st.dialog(_title(wanted), width="large", on_dismiss=opening.close)(_body)(page, wanted)


def _title(wanted: str) -> str:
    kind, told = opening.told(wanted)
    if kind == "aside" and len(told) in (3, 4) and all(re.fullmatch(r"[0-9]{1,12}", part) for part in told[2:]):
        return verbatim(f"Mend {words.place(told[0], told[1], *map(int, told[2:]))}")
    return "What stands behind it"


def _body(page: Page, wanted: str) -> None:
    kind, told = opening.told(wanted)
    try:
        KINDS[kind](page, *told)
    except (KeyError, TypeError, ValueError):  # an address that somebody typed, or of other records
        parts.say(GONE)


def _day(text: str) -> date:
    return date.fromisoformat(text)


def _end(text: str) -> date:
    """The last day of the month that a day lies in."""
    return parts.last_day(_day(text))


def _pieces(page: Page, found: pl.DataFrame, what: str) -> None:
    parts.say(f"The pieces behind {what}: {words.count(found.height, 'piece')}.", quiet=True)
    columns = [
        *JUDGED,
        Column("units", "Units", number=True),
        Column("unit_cost_cents", "Cost", page.money, number=True),
        Column("predicted_10_cents", "Predicted from", page.money, number=True),
        Column("predicted_50_cents", "likely", page.money, number=True),
        Column("predicted_90_cents", "to", page.money, number=True),
        Column("cost_cents", "Cost", page.money, number=True),
        Column("price_cents", "Price each", page.money, number=True),
        Column("rework_cents", "Rework", page.money, number=True),
        Column("scrap_cents", "Scrap", page.money, number=True),
    ]
    parts.table(page, found, columns, "pieces-behind", shown=15, key="-behind")


def _layer(page: Page, piece: str, layer: str) -> None:
    piece_layer.show(page, piece, layer, key="-behind")


def _aside(page: Page, file: str, sheet: str, row: str, occurrence: str = "0") -> None:
    found = page.book.aside(file, sheet, int(row), int(occurrence))
    if found.height:
        mending.row(data.shop_folder(), found.row(0, named=True))
    else:
        parts.say("This row is set aside no more.")


def _word(page: Page, vocabulary: str, word: str) -> None:
    parts.say(
        f"Say in shop.toml, under [words.{vocabulary}], what “{word}” means, as another word that is known; or mend it "
        "in the rows below, each with its file."
    )
    parts.records(page, page.book.word_records(vocabulary, word), f"“{word}”")


def _tag(page: Page, record: str, field: str, tag: str) -> None:
    parts.say(f"{tag} leads nowhere: put it on record, or mend it in the rows below, each with its file.")
    parts.records(page, page.book.tag_records(record, field, tag), tag)


def _line(page: Page, month: str, lines: str, layers: str, what: str) -> None:
    found = page.book.month_records(_day(month), _day(month), _list(lines), _list(layers))
    parts.records(page, found, f"{what} in {words.month(_day(month))}")


def _two_months(page: Page, month: str, other: str, lines: str, layers: str, part: str) -> None:
    found = page.book.month_records(_day(month), _day(other), _list(lines), _list(layers))
    parts.records(page, found, f"“{part}”, of {words.month(_day(other))} and {words.month(_day(month))}")


def _list(text: str) -> list[str]:
    return text.split("|") if text else []


def _resin(page: Page, item: str, step: str, first: str, last: str, what: str) -> None:
    parts.records(page, page.book.resin_records(item, step, _day(first), _day(last)), f"“{what}” of {item}")


def _pours(page: Page, resin: str, purpose: str, size: str) -> None:
    said = "pours" if purpose == "all" else f"pours for {purpose}"
    said += "" if resin == "all" else f" of {resin}"
    said += "" if size == "all" else f" that needed {size}"
    parts.records(page, page.book.pour_records(resin, purpose, size), f"the {said}, by what was mixed beyond the need")


def _held(page: Page, month: str, stage: str) -> None:
    if stage == "materials":
        parts.records(page, page.book.shelf_records(_end(month)), f"what lay on the shelf at the end of {month[:7]}")
    else:
        found = page.book.held(_day(month)).filter(pl.col("stage") == stage)
        _pieces(page, found, f"“{stage}” at the end of {words.month(_day(month))}")


KINDS: dict[str, Callable[..., Any]] = {
    "row": lambda page, row_id: parts.records(page, page.book.record(int(row_id)), "it"),
    "rows": lambda page, *row_ids: parts.records(page, page.book.record(*map(int, row_ids)), "it"),
    "lot": lambda page, lot_id: parts.records(page, page.book.lot_records(int(lot_id)), "this lot"),
    "flow": lambda page, flow: parts.records(page, page.book.flow_records(flow), flow),
    "layer": _layer,
    "line": _line,
    "months": _two_months,
    "cash": lambda page, month, line: parts.records(page, page.book.cash_records(_day(month), line), f"“{line}”"),
    "event": lambda page, event: parts.records(page, page.book.event_records(event), event),
    "sold": lambda page, factor, level, first=EVER[0], last=EVER[1]: parts.records(
        page, page.book.sold_records(factor, level, _day(first), _day(last)), f"the sales of {level}"
    ),
    "resin": _resin,
    "pours": _pours,
    "wood": lambda page, factor, level: parts.records(
        page, page.book.wood_records(factor, level), f"the lots of {level}"
    ),
    "judged": lambda page, factor, level: _pieces(page, page.book.judged(factor, level), f"{factor} {level}"),
    "between": lambda page, first, last: _pieces(
        page, page.book.judged_between(_day(first), _day(last)), f"the months {first[:7]} to {last[:7]}"
    ),
    "found": lambda page, defect, found_at, cause: parts.records(
        page, page.book.found_records(defect, found_at, cause), f"{defect}, found at {found_at}, cause {cause}"
    ),
    "hours": lambda page, day: parts.records(page, page.book.hours_records(_day(day)), f"the hours of {day}"),
    "unplaced": lambda page, operation: parts.records(
        page, page.book.unplaced_hours(operation), f"{operation} of no piece"
    ),
    "made": lambda page, product, part: parts.records(
        page, page.book.made_records(product, part), f"every {product} made so far" + _of(part)
    ),
    "waited": lambda page, product, days: _pieces(
        page, page.book.waited(product, int(days)), f"a {product} that waited {days} days"
    ),
    "predicted": lambda page, factor, level: _pieces(page, page.book.predicted(factor, level), f"the score: {level}"),
    "held": _held,
    "file": lambda page, file, sheet: parts.records(
        page, page.book.file_records(file, sheet), f"{file} {sheet}".strip()
    ),
    "word": _word,
    "tag": _tag,
    "aside": _aside,
}
"""What can be opened: the kind in the address → what shows it, of a page and the parts of its address."""


def _of(part: str) -> str:
    return "" if part == "all" else f", {part}"
