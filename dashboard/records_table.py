"""The records behind a figure: each with its file, sheet and row, what paid for it, and its fields on a click."""

import mimetypes
from functools import partial
from html import escape
from pathlib import Path
from typing import Any

import polars as pl
import streamlit as st

from dashboard import data, words
from dashboard.links import address
from dashboard.read.tables import SHOWN
from dashboard.verbatim import verbatim
from dashboard.view_context import Page
from pipeline.pages import actions

PAPERS_SHOWN = 6

WHOSE = ("", "paid_")

FIRST = 8
"""Records shown at once; the others are behind a fold."""

SHARED = {"area": "by surface", "volume": "by blank volume", "equal": "by units", "units": "by units"}
"""How a stretch of work goes over its pieces."""

SETTING = {
    "person_rate": "{name}'s hourly rate",
    "pool": "the bills for {name}",
    "price_list": "the list price of {name}",
    "shop": "the settings of the shop",
    "rule": "the rules",
}
"""An entry of the settings as one says it; the others are called by their kind and name."""


def records(page: Page, trace: pl.DataFrame, what: str) -> None:
    """The records behind a figure: each with its file, sheet and row, what paid for it, and its fields on a click.

    `trace`: rows of `cost.trace` with the provenance of `row_id` and of `paid_row_id`.
    """
    if not trace.height:
        st.html('<p class="kl-quiet">No record stands behind this.</p>')
        return
    ids = {i for column in ("row_id", "paid_row_id") for i in trace[column].to_list() if i is not None}
    found = page.book.records(ids)
    shown = f"the first {SHOWN}, dearest first" if trace.height == SHOWN else words.count(trace.height, "line")
    kept = st.query_params.to_dict()
    each = [_record(page, row, found, kept, trace.height == 1) for row in trace.iter_rows(named=True)]
    lines = "".join(each[:FIRST])
    if len(each) > FIRST:
        rest = "".join(each[FIRST:])
        lines += f"<details><summary>The other {words.count(len(each) - FIRST, 'line')}</summary>{rest}</details>"
    st.html(f'<p class="kl-quiet">The records behind {escape(what)}: {shown}. Open a line for its fields.</p>{lines}')
    _papers(trace, found)


def _papers(trace: pl.DataFrame, found: dict[int, dict[str, Any]]) -> None:
    """The papers of the receipts behind a figure, to be opened."""
    files = {
        row[f"{who}row_id"]: row[f"{who}file"]
        for row in trace.iter_rows(named=True)
        for who in WHOSE
        if f"{who}file" in row
    }
    rows = [(of.get("receipt"), of.get("supplier"), files.get(id_)) for id_, of in found.items() if "receipt" in of]
    folder = data.shop_folder()
    for name in actions.papers(folder, rows)[:PAPERS_SHOWN] if rows else ():
        kind = mimetypes.guess_type(name)[0] or "application/octet-stream"
        label = f"The paper: {verbatim(name.removeprefix('inbox/'))}"
        st.download_button(
            label,
            partial(actions.paper, folder, name),
            Path(name).name,
            kind,
            key=f"paper-{name}",
            type="tertiary",
            on_click="ignore",
        )


def _record(
    page: Page, row: dict[str, Any], found: dict[int, dict[str, Any]], kept: dict[str, str], alone: bool
) -> str:
    alone_ran = ["ran alone"] if row.get("attended") is False else []
    said = [*(flag for flag in ("rework", "assumed", "estimated") if row.get(flag)), *alone_ran]
    flags = "".join(f'<span class="kl-flag">{flag}</span>' for flag in said)
    what = ", ".join(str(row[name]) for name in ("operation", "item", "lot", "piece") if row.get(name))
    day = "" if row.get("on_date") is None else words.day(row["on_date"])
    own = found.get(row["row_id"], {})
    where = _where(row["record"], words.place(row["file"], row["sheet"], row["row"]), own)
    because = _fields(page, f"Because of {_named(row['record'], where)}", own)
    cents = "" if row["cents"] is None else escape(page.money(row["cents"]))
    paid = ""
    if row.get("paid_row_id") not in (None, row["row_id"]):
        payer = found.get(row["paid_row_id"], {})
        place = _where(row["paid_record"], words.place(row["paid_file"], row["paid_sheet"], row["paid_row"]), payer)
        paid = _fields(page, f"Paid for by {_named(row['paid_record'], place)}", payer)
        where = f"{where} · paid by {place}"
    lines = "<br>".join(
        f'<span class="kl-quiet">{escape(line)}</span>' for line in (_hours(row, own), _down(page, row), where) if line
    )
    return (
        f'<details class="kl-record"{" open" if alone else ""}><summary><span class="kl-cents">{cents}</span>'
        f"{escape(f'{day} {what}'.strip() or _kind(row['record']))}{flags}<br>{lines}</summary>{because}{paid}"
        f"{_piece(row.get('piece'), kept)}</details>"
    )


def _hours(row: dict[str, Any], record: dict[str, Any]) -> str:
    """The piece's hours in a line, and how it came to its share where a row holds more than that."""
    own, whole = row.get("share_seconds"), row.get("all_seconds")
    if own is None or whole is None:
        guessed = row.get("unit") == "s" and row.get("estimated")
        return f"{_long(row['quantity'])}, as such pieces usually take: nobody logged it" if guessed else ""
    if own == whole:
        return _long(own)
    part = f"{_long(own)} of {_long(whole)}"
    if row["shared_by"] == "need":
        return f"{part} that name no piece: it lacked {row['operation']}"
    rule = f"the rule for {row['operation']}" if row["shared_by"] == row["driver"] else "for want of sizes"
    shared = f"shared {SHARED[row['shared_by']]}, {rule}"
    return f"{part} for {words.count(len(record.get('pieces') or ()), 'piece')}, {shared}"


def _down(page: Page, row: dict[str, Any]) -> str:
    """What a piece that is written down was held against, and which part of its write-down a line is."""
    if row.get("line") != "write-downs":
        return ""
    down = page.book.write_downs(row["month"]).filter(pl.col("piece") == row["piece"]).row(0, named=True)
    money = page.money
    part = "its own pay, which the books leave out" if row["own_labour"] else "all of its cost but own pay"
    moved = f"{money(abs(down['change_cents']))} {'more' if down['change_cents'] > 0 else 'less'} than the month before"
    if down["stage"] == "gone":
        return f"gone since, so that what was written down comes back: {moved}. This line: {part}"
    each = " each" if down["units"] > 1 else ""
    left = "after selling and what finishing takes" if down["to_finish_cents"] else "after selling"
    held = (
        f"may bring {money(down['expected_cents'])}{each} ({down['price_basis']}), {money(down['worth_cents'])} {left}"
    )
    if down["expected_cents"] is None:
        held = "no price is known for it any more"
    written = f"{money(down['written_down_cents'])} written down, {moved}"
    return f"cost {money(down['cost_cents'])}, {held}: {written}. This line: {part}"


def _long(seconds: int) -> str:
    return f"{seconds / 3600:.2f} h"


def _where(record: str | None, place: str, told: dict[str, Any]) -> str:
    """Where a record stands; an entry of the settings is known by its name and its first day."""
    schema, _, table = (record or "").rpartition(".")
    if schema != "settings" or not told:
        return place
    name = SETTING.get(table, f"the {table.replace('_', ' ')} {{name}}").format(name=told.get("name", ""))
    since = f", from {words.day(told['from_date'])}" if told.get("from_date") else ""
    return f"{name} in shop.toml{since}"


def _named(record: str | None, where: str) -> str:
    """A record with its kind: what an entry of the settings is, its place says."""
    return where if (record or "").startswith("settings.") else f"{_kind(record)} ({where})"


def _kind(record: str | None) -> str:
    """What kind of record it is, in words: `settings.machine` is your setting for a machine."""
    if not record:
        return "a rule"
    schema, _, table = record.rpartition(".")
    return f"your setting for {table.replace('_', ' ')}" if schema == "settings" else f"a row of {record}"


def _piece(piece: str | None, kept: dict[str, str]) -> str:
    if not piece:
        return ""
    there = escape(address("pieces?piece", piece, kept), quote=True)
    return f'<p><a href="{there}" target="_self">All of {escape(piece)}</a></p>'


def _fields(page: Page, title: str, record: dict[str, Any]) -> str:
    entries = "".join(
        f"<dt>{escape(_field_name(name))}</dt><dd>{escape(_field(page, name, value))}</dd>"
        for name, value in record.items()
        if value is not None and name != "row_id" and not name.endswith("_unit")
        for value in [_with_unit(record, name, value)]
    )
    return f'<p class="kl-quiet">{escape(title)}</p><dl>{entries}</dl>'


def _with_unit(record: dict[str, Any], name: str, value: Any) -> Any:
    unit = record.get(f"{name}_unit")
    if not unit:
        return value
    # stored in thousandths of what people say, all but the whole units
    said = {
        "mg": ("g", 1000),
        "ul": ("ml", 1000),
        "each": ("", 1000),
        "kit": ("kit", 1000),
        "mm3": ("cm³", 1000),
        "um": ("mm", 1000),
    }
    shown, size = said.get(unit, (unit, 1))
    return f"{value / size:,.6g} {shown}".strip()


def _field_name(name: str) -> str:
    for end in ("_cents", "_um", "_c", "_pct", "_ppm", "_seconds"):
        name = name.removesuffix(end)
    return {"on_date": "date", "seconds": "hours"}.get(name, name).replace("_", " ")


def _field(page: Page, name: str, value: Any) -> str:
    if name.endswith("_cents"):
        return page.money(value)
    if name.endswith("_um"):
        return f"{value / 1000:,.6g} mm"
    if name.endswith("seconds"):
        return words.lasted(value)
    if name.endswith("_pct"):
        return f"{value:g} %"
    if name.endswith("_c"):
        return f"{value:g} °C"
    if name.endswith("_ppm"):
        return f"{value / 10000:g} %"
    return words.field_text(value)
