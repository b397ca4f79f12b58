"""Tables that read well on a phone, whose rows lead on, and whose files no spreadsheet can be fooled by."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from html import escape
from typing import Any

import polars as pl
import polars.selectors as cs
import streamlit as st

from dashboard import links, words
from dashboard.links import Lead, address
from dashboard.meanings import one_stop, term
from dashboard.verbatim import verbatim
from dashboard.view_context import Page
from dashboard.wrong_address import look_up_switch
from pipeline.pages import actions

LONGEST = 32
"""Letters of a text that stands in one line: a longer one would push all else off the page."""

LETTER_PX, CELL_PX = 8, 18
"""A letter of a grid, and what a cell leaves free around its text."""

WRITTEN = 50_000
"""Cells of a grid that are each written in our words: that takes a second for every 70,000."""

Leads = Callable[[dict[str, Any]], Lead | None]
"""Where each row of a table leads, by its values."""

Ways = list[tuple[pl.Series, Callable[[Any], str]]]
"""Which rows of a column are written how."""


@dataclass(frozen=True)
class Column:
    """A column of a table: where its value stands, its heading, how it is written; `number`: right, `long`: wraps.

    `opens`: the part of the address that the value opens, as `pieces?piece`. `means`: the column of the database that
    its meaning is taken from, where that is another one. `of`: the column that holds the unit of each row's amount,
    which `write` then takes too.
    """

    name: str
    heading: str
    write: Callable[..., str] = words.field_text
    number: bool = False
    long: bool = False
    opens: str = ""
    means: str = ""
    of: str = ""

    @property
    def meant(self) -> str:
        """The column whose meaning it shows; `place` here is where a record stands, not a place that money is in."""
        return self.means or {"place": "file"}.get(self.name, self.name)

    @property
    def unit(self) -> words.Unit | None:
        """The unit that all of its numbers are shown in."""
        write = self.write.exact if isinstance(self.write, words.Money) else self.write
        return write if isinstance(write, words.Unit) else None

    def text(self, row: dict[str, Any]) -> str:
        """Its value in a row as it is written."""
        return self.write(row[self.name], row[self.of]) if self.of else self.write(row[self.name])


def placed(frame: pl.DataFrame) -> pl.DataFrame:
    """The frame with a column `place`: file, sheet and row in words."""
    sheet = pl.when(pl.col("sheet") != "").then(pl.lit("sheet ") + pl.col("sheet"))
    row = pl.lit("row ") + pl.col("row").cast(pl.String)
    if "occurrence" in frame.columns:  # a repeating event's rows share a line
        again = pl.when(pl.col("occurrence") > 0).then(pl.format(", occurrence {}", pl.col("occurrence") + 1))
        row = row + again.otherwise(pl.lit(""))
    return frame.with_columns(pl.concat_str("file", sheet, row, separator=", ", ignore_nulls=True).alias("place"))


def where_enough(frame: pl.DataFrame, by: str, names: Sequence[str]) -> pl.DataFrame:
    """The frame with these figures only in rows that rest on enough: `by` counts what they rest on."""
    return frame.with_columns(pl.when(pl.col(by) >= words.FEW).then(name).alias(name) for name in names)


def csv(frame: pl.DataFrame) -> bytes:
    """The frame as CSV. A text that a spreadsheet would run as a formula gets an apostrophe before it; lists become
    text with semicolons."""
    lists = [
        pl.col(name).cast(pl.List(pl.String)).list.join("; ")
        for name, kind in frame.schema.items()
        if isinstance(kind, pl.List)
    ]
    flat = frame.with_columns(lists)
    return flat.with_columns(actions.spreadsheet_safe(cs.string())).write_csv().encode()


def table(
    page: Page,
    frame: pl.DataFrame,
    columns: Sequence[Column],
    name: str,
    shown: int = 12,
    key: str = "",
    leads: Leads | None = None,
) -> None:
    """The first rows at once and all behind a click, with a download. `leads` says where a row leads."""
    if not frame.height:
        st.html('<p class="kl-quiet">Nothing here.</p>')
        return
    kept = frame
    if "place" in {column.name for column in columns}:
        frame = placed(frame)
    columns = [c for c in columns if c.name in frame.columns]
    st.html(rows(page, frame.head(shown), columns, name, leads, key))
    if frame.height > shown:
        leading = leads or any(column.opens for column in columns)
        look_up_switch("All rows", f"rest-{name}{key}")
        box = st.expander(
            f"All {words.count(frame.height, 'row')}, to sort and search{'; a tick opens its row' if leading else ''}",
            on_change="rerun",
            key=f"rest-{name}{key}",
            bind="query-params",
        )
        if box.open:
            with box:
                _long(page, frame, columns, f"grid-{name}{key}", leads)
    st.download_button(
        "Download as CSV",
        lambda: csv(kept),  # with file, sheet and row as they are, and not in words beside
        f"{name}.csv",
        "text/csv",
        key=f"csv-{name}{key}",
        type="tertiary",
        on_click="ignore",
    )


def rows(
    page: Page, frame: pl.DataFrame, columns: Sequence[Column], name: str, leads: Leads | None = None, key: str = ""
) -> str:
    """The table as HTML. The first cell that opens nothing of its own leads where the row leads."""
    head = one_stop("".join(_heading(page, column, f"{name}{key}") for column in columns))
    kept = st.query_params.to_dict() if leads or any(column.opens for column in columns) else {}
    first = next((n for n, column in enumerate(columns) if not column.opens), None) if leads else None
    body = "".join(
        "<tr>"
        + "".join(
            _cell(column, row, kept, leads(row) if leads and n == first else None) for n, column in enumerate(columns)
        )
        + "</tr>"
        for row in frame.iter_rows(named=True)
    )
    label = escape(name.replace("-", " "))
    return (
        f'<div class="kl-scroll" tabindex="0" role="region" aria-label="{label}">'
        f'<table class="kl"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>'
    )


def _heading(page: Page, column: Column, place: str) -> str:
    text = term(page, column.heading, column.meant, place)
    return f'<th scope="col"{_class(column)}>{text}</th>'


def _cell(column: Column, row: dict[str, Any], kept: dict[str, str], lead: Lead | None) -> str:
    text = escape(column.text(row))
    if column.opens and row[column.name] is not None:
        lead = (column.opens, str(row[column.name]))
    if lead:
        # a dash is no name for a link
        named = ' aria-label="open the records"' if text == words.DASH else ""
        text = f'<a href="{escape(address(*lead, kept), quote=True)}" target="_self"{named}>{text}</a>'
    wraps = not column.number and len(column.text(row)) > LONGEST
    return f'<td class="long">{text}</td>' if wraps else f"<td{_class(column)}>{text}</td>"


def _class(column: Column) -> str:
    return ' class="num"' if column.number else ' class="long"' if column.long else ""


def _long(page: Page, frame: pl.DataFrame, columns: Sequence[Column], key: str, leads: Leads | None) -> None:
    """All rows in a grid that scrolls and sorts. A row that is ticked leads where its link leads."""
    own = next((column for column in columns if column.opens), None)
    lead = leads
    if own and not lead:
        lead = lambda row: (own.opens, str(row[own.name])) if row[own.name] is not None else None  # noqa: E731
    grid, told = _grid(page, frame, columns)
    if not lead:
        st.dataframe(grid, hide_index=True, key=key, column_config=told, placeholder=words.DASH)
        return
    found = [lead(row) for row in frame.iter_rows(named=True)]
    st.dataframe(
        grid,
        hide_index=True,
        key=key,
        column_config=told,
        placeholder=words.DASH,
        on_select=links.on_select(found, key),
        # not by cell: a grid chooses its first cell by itself as soon as a heading is clicked or a key leads there
        selection_mode="single-row",
    )


def _grid(
    page: Page, frame: pl.DataFrame, columns: Sequence[Column], most: int = WRITTEN
) -> tuple[Any, dict[str, Any]]:
    """The rows of a grid and how its columns are shown: numbers stay numbers, so that a heading sorts by them.

    Each number is written as everywhere else, which no format of a grid can do; but in a grid of more than `most` cells
    those that can by the grid itself.
    """
    few = frame.height * len(columns) <= most
    shown: dict[str, pl.Series] = {}
    told: dict[str, Any] = {}
    written: dict[str, Ways] = {}
    for column in columns:
        # a grid takes a heading once only: `from` may stand twice
        heading = column.heading + " " * sum(column.heading == other.strip() for other in shown)
        values = frame[column.name]
        means = verbatim(page.book.meaning(column.meant) or "") or None
        if not values.dtype.is_numeric() or not (few or column.unit or column.write is words.field_text):
            texts = [column.text(row) for row in frame.iter_rows(named=True)]
            shown[heading] = pl.Series(texts, dtype=pl.String)
            told[heading] = st.column_config.Column(help=means)
            continue
        shown[heading], written[heading] = _numbers(page, frame, column)
        told[heading] = st.column_config.NumberColumn(
            help=means,
            format=None if few or not column.unit else column.unit.form,
            width=_width(column.heading, shown[heading], written[heading]),
        )
    grid = pl.DataFrame(shown)
    return (_as_written(grid, written) if few else grid), told


def _numbers(page: Page, frame: pl.DataFrame, column: Column) -> tuple[pl.Series, Ways]:
    """A column's numbers as a grid sorts them, and how each is written."""
    values = frame[column.name]
    if column.of:
        units = frame[column.of]
        factors = {unit: words.measure(unit, page.units).factor for unit in units.unique()}
        ways: Ways = [(units == unit, partial(_amount, column, unit, factor)) for unit, factor in factors.items()]
        return values * units.replace_strict(factors, return_dtype=pl.Float64), ways
    every = pl.Series([True]).new_from_index(0, len(values))
    if column.unit:
        return values * column.unit.factor, [(every, replace(column.unit, factor=1))]
    # a column of whole numbers that lacks one comes as floats
    kind = int if values.dtype.is_integer() else float
    return values, [(every, lambda number: column.write(kind(number)))]


def _amount(column: Column, unit: str, factor: float, number: float) -> str:
    # to the stored unit: the factor there and back must leave no trace
    return column.write(round(number / factor), unit)


def _width(heading: str, numbers: pl.Series, ways: Ways) -> int:
    """A grid takes the width from its first rows, and cuts off what is longer further down."""
    ends = [
        write(end)
        for rows, write in ways
        for end in (numbers.filter(rows).min(), numbers.filter(rows).max())
        if end is not None
    ]
    return LETTER_PX * max(map(len, [heading, *ends])) + CELL_PX


def _as_written(grid: pl.DataFrame, written: dict[str, Ways]) -> Any:
    """The grid with the text that each number is shown by."""
    styler = grid.to_pandas().style
    for heading, ways in written.items():
        for rows, write in ways:
            styler.format(write, subset=(rows.arg_true().to_list(), [heading]), na_rep=words.DASH)
    return styler
