"""The records behind a figure: each with its file, sheet and row, what paid for it, and its fields on a click."""

from html import escape
from typing import Any

import polars as pl
import streamlit as st

from dashboard import words
from dashboard.opening import address
from dashboard.page import Page
from dashboard.read.tables import SHOWN

FIRST = 8
"""Records shown at once; the others are behind a fold."""


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


def _record(
    page: Page, row: dict[str, Any], found: dict[int, dict[str, Any]], kept: dict[str, str], alone: bool
) -> str:
    flags = "".join(
        f'<span class="kl-flag">{flag}</span>' for flag in ("rework", "assumed", "estimated") if row.get(flag)
    )
    what = ", ".join(str(row[name]) for name in ("operation", "item", "lot", "piece") if row.get(name))
    day = "" if row.get("on_date") is None else words.day(row["on_date"])
    where = words.place(row["file"], row["sheet"], row["row"])
    because = _fields(page, f"Because of {_kind(row['record'])} ({where})", found.get(row["row_id"], {}))
    cents = "" if row["cents"] is None else escape(page.money(row["cents"]))
    paid = ""
    if row.get("paid_row_id") not in (None, row["row_id"]):
        place = words.place(row["paid_file"], row["paid_sheet"], row["paid_row"])
        paid = _fields(page, f"Paid for by {_kind(row['paid_record'])} ({place})", found.get(row["paid_row_id"], {}))
        where = f"{where} · {_paid(row['paid_record'], found.get(row['paid_row_id'], {}), place)}"
    return (
        f'<details class="kl-record"{" open" if alone else ""}><summary><span class="kl-cents">{cents}</span>'
        f"{escape(f'{day} {what}'.strip() or _kind(row['record']))}{flags}<br>"
        f"<span class='kl-quiet'>{escape(where)}</span></summary>{because}{paid}"
        f"{_piece(row.get('piece'), kept)}</details>"
    )


RATES = {
    "settings.person_rate": "at the hourly rate of {}",
    "settings.machine": "at the rate of the machine {}",
    "settings.pool": "at the rate for {}",
    "settings.event": "by what is set for {}",
}
SETTINGS = {"shop": "the shop", "person_rate": "a person's pay", "machine": "a machine", "pool": "shared costs",
            "channel": "a channel", "event": "an event", "rule": "rules and taxes"}  # fmt: skip


def _paid(record: str, paid: dict[str, Any], place: str) -> str:
    """What paid for it, in words: a receipt, or a rate that is set."""
    if record in RATES:
        return f"{RATES[record].format(paid.get('name', ''))}, in your settings ({place})"
    return f"paid for by {place}"


def _kind(record: str | None) -> str:
    """What kind of record it is, in words: `settings.machine` is your setting for a machine."""
    if not record:
        return "a rule"
    schema, _, table = record.rpartition(".")
    return (
        f"your setting for {SETTINGS.get(table, table.replace('_', ' '))}"
        if schema == "settings"
        else f"a row of {record}"
    )


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
    for end in ("_cents", "_um", "_c", "_pct", "_ppm"):
        name = name.removesuffix(end)
    return {"on_date": "date", "seconds": "hours"}.get(name, name).replace("_", " ")


def _field(page: Page, name: str, value: Any) -> str:
    if name.endswith("_cents"):
        return page.money(value)
    if name.endswith("_um"):
        return f"{value / 1000:,.6g} mm"
    if name.endswith("seconds"):
        return f"{value // 3600}:{value % 3600 // 60:02}"
    if name.endswith("_pct"):
        return f"{value:g} %"
    if name.endswith("_c"):
        return f"{value:g} °C"
    if name.endswith("_ppm"):
        return f"{value / 10000:g} %"
    return words.plain(value)
