"""What pages are built of: the answer, figures, pictures, tables, choices in the address, and the records behind."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from html import escape
from pathlib import Path
from typing import Any

import polars as pl
import streamlit as st
from altair import Undefined

from dashboard import words
from dashboard.charts import theme
from dashboard.data import SHOWN, Book
from dashboard.words import Money, Units
from pipeline.records import RECORDS

ANY = "all"
"""The choice that filters nothing."""

_LOOK = Path(__file__).with_name("look.css")


@dataclass(frozen=True)
class Page:
    """What a view is given: the published database, and how this shop writes money and quantities."""

    book: Book
    money: Money
    units: Units

    @property
    def look(self) -> theme.Look:
        return theme.look(st.context.theme.type == "dark")

    @property
    def scale(self) -> float:
        """From minor units to the currency, for axes."""
        return float(10**-self.money.digits)


def page_of(book: Book) -> Page:
    shop = book.shop()
    return Page(book, Money(shop["currency"]), words.units(shop["units"]))


def wear_look() -> None:
    """Put our style sheet on the page."""
    st.html(_LOOK)


def head() -> Any:
    """Room for the answer, above the choices that it depends on."""
    return st.container()


def answer(question: str, sentence: str, where: Any = st) -> None:
    """The page's question and, as its heading, the answer with its figures."""
    where.html(f'<p class="kl-question">{escape(question)}</p><h1 class="kl-answer">{escape(sentence)}</h1>')


def part(title: str) -> None:
    """A heading within the page."""
    st.html(f'<h2 class="kl-part">{escape(title)}</h2>')


def say(sentence: str) -> None:
    """A sentence of its own."""
    st.html(f"<p>{escape(sentence)}</p>")


def figures(entries: Iterable[tuple[str, str, str]]) -> None:
    """A row of figures: name, figure, a note below it."""
    cells = "".join(
        f"<div><dt>{escape(name)}</dt><dd>{escape(figure)}</dd><dd>{escape(note)}</dd></div>"
        for name, figure, note in entries
    )
    st.html(f'<dl class="kl-figures">{cells}</dl>')


def advice(lines: Sequence[str]) -> None:
    """What to do about it; nothing at all where there is nothing to do."""
    if lines:
        items = "".join(f"<li>{escape(line)}</li>" for line in lines)
        st.html(f'<div class="kl-do"><p>What to do about it</p><ul>{items}</ul></div>')


def caution(text: str) -> None:
    """A caution where the work can hurt. It defers to those who know."""
    st.html(f'<p class="kl-mind"><b>Mind:</b> {escape(text)}</p>')


def empty(what: str, fill: str) -> None:
    """Says that there is nothing yet, and what record would fill the page."""
    st.html(f'<div class="kl-do"><p>{escape(what)}</p>{escape(fill)}</div>')


def picture(chart: Any, alt: str, key: str, field: str = "") -> str | None:
    """Show a chart with its words for those who can't see it. With a `field`, gives the value of the mark clicked."""
    # as text of the page the title wraps at any width, which a chart's own title doesn't
    st.html(f'<p class="kl-title">{escape(chart.title.text)}</p>')
    shown = chart.copy(deep=False)
    shown.title = Undefined
    if not field:
        st.altair_chart(shown, theme=None, width="stretch", alt=alt, key=key)
        return None
    state = st.altair_chart(shown, theme=None, width="stretch", alt=alt, key=key, on_select="rerun")
    marks = state["selection"].get("picked") or []
    return str(marks[0][field]) if marks and field in marks[0] else None


@dataclass(frozen=True)
class Column:
    """A column of a table: where its value stands, its heading, how it is written; `number`: right, `long`: wraps."""

    name: str
    heading: str
    write: Callable[[Any], str] = words.plain
    number: bool = False
    long: bool = False


def placed(frame: pl.DataFrame) -> pl.DataFrame:
    """The frame with a column `place`: file, sheet and row in words."""
    sheet = pl.when(pl.col("sheet") != "").then(pl.lit("sheet ") + pl.col("sheet"))
    row = pl.lit("row ") + pl.col("row").cast(pl.String)
    return frame.with_columns(pl.concat_str("file", sheet, row, separator=", ", ignore_nulls=True).alias("place"))


def table(
    page: Page, frame: pl.DataFrame, columns: Sequence[Column], name: str, shown: int = 12, key: str = ""
) -> None:
    """A table that reads well on a phone, its first rows at once and the others behind a click, with a download."""
    if not frame.height:
        st.html('<p class="kl-quiet">Nothing here.</p>')
        return
    if "place" in {column.name for column in columns}:
        frame = placed(frame)
    columns = [c for c in columns if c.name in frame.columns]
    st.html(_rows(page, frame.head(shown), columns, name))
    rest = frame.height - shown
    if rest > 0:
        box = st.expander(f"The other {words.count(rest, 'row')}", on_change="rerun", key=f"rest-{name}{key}")
        if box.open:
            with box:
                # long tables scroll and sort in the grid
                st.dataframe(_grid(frame, columns), hide_index=True, key=f"grid-{name}{key}")
    st.download_button(
        "Download as CSV",
        lambda: frame.write_csv().encode(),
        f"{name}.csv",
        "text/csv",
        key=f"csv-{name}{key}",
        type="tertiary",
        on_click="ignore",
    )


def _rows(page: Page, frame: pl.DataFrame, columns: Sequence[Column], name: str) -> str:
    head = "".join(_heading(page, column) for column in columns)
    body = "".join(
        "<tr>" + "".join(_cell(column, row[column.name]) for column in columns) + "</tr>"
        for row in frame.iter_rows(named=True)
    )
    label = escape(name.replace("-", " "))
    return (
        f'<div class="kl-scroll" tabindex="0" role="region" aria-label="{label}">'
        f'<table class="kl"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>'
    )


def _heading(page: Page, column: Column) -> str:
    meaning = page.book.meaning(column.name)
    text = escape(column.heading)
    if meaning:
        text = f'<abbr title="{escape(meaning, quote=True)}">{text}</abbr>'
    return f'<th scope="col"{_class(column)}>{text}</th>'


def _cell(column: Column, value: Any) -> str:
    return f"<td{_class(column)}>{escape(column.write(value))}</td>"


def _class(column: Column) -> str:
    return ' class="num"' if column.number else ' class="long"' if column.long else ""


def _grid(frame: pl.DataFrame, columns: Sequence[Column]) -> pl.DataFrame:
    return frame.select(
        pl.Series(column.heading, [column.write(value) for value in frame[column.name].to_list()]) for column in columns
    )


def choose(label: str, key: str, options: Sequence[str], start: str | None = None) -> str:
    """A choice that stands in the address under `key`, so that a view can be sent on and holds across pages."""
    options = list(options)
    first = options.index(start) if start in options else 0
    chosen = st.selectbox(label, options, index=first, key=key, bind="query-params")
    return chosen if chosen in options else options[first]


def choose_among(label: str, key: str, values: Iterable[str | None]) -> str:
    """A filter over the distinct values of a column, with `ANY` first."""
    return choose(label, key, [ANY, *sorted({value for value in values if value})])


def kept(frame: pl.DataFrame, **chosen: str) -> pl.DataFrame:
    """The rows whose columns have the chosen values; `ANY` keeps all."""
    wanted = [pl.col(column) == value for column, value in chosen.items() if value != ANY]
    return frame.filter(wanted) if wanted else frame


def filters() -> Any:
    """A row for choices, which becomes a column on a phone."""
    return st.container(horizontal=True, gap="medium")


def records(page: Page, trace: pl.DataFrame, what: str) -> None:
    """The records behind a figure: each with its file, sheet and row, what paid for it, and its fields on a click.

    `trace`: rows of `cost.trace` with the provenance of `row_id` and of `paid_row_id`.
    """
    if not trace.height:
        st.html('<p class="kl-quiet">No record stands behind this.</p>')
        return
    ids = {i for column in ("row_id", "paid_row_id") for i in trace[column].to_list() if i is not None}
    found = page.book.records(ids)
    shown = f"the {SHOWN} dearest" if trace.height == SHOWN else words.count(trace.height, "line")
    lines = "".join(_record(page, row, found) for row in trace.iter_rows(named=True))
    st.html(f'<p class="kl-quiet">The records behind {escape(what)}: {shown}. Open a line for its fields.</p>{lines}')


def _record(page: Page, row: dict[str, Any], found: dict[int, dict[str, Any]]) -> str:
    flags = "".join(
        f'<span class="kl-flag">{flag}</span>' for flag in ("rework", "assumed", "estimated") if row.get(flag)
    )
    what = ", ".join(str(row[name]) for name in ("operation", "item", "lot") if row.get(name))
    where = words.place(row["file"], row["sheet"], row["row"])
    because = _fields(page, f"Because of {row['record'] or 'a rule'} ({where})", found.get(row["row_id"], {}))
    paid = ""
    if row.get("paid_row_id") not in (None, row["row_id"]):
        place = words.place(row["paid_file"], row["paid_sheet"], row["paid_row"])
        paid = _fields(
            page, f"Paid for by {row['paid_record'] or 'a rule'} ({place})", found.get(row["paid_row_id"], {})
        )
        where = f"{where} · paid by {place}"
    return (
        f'<details class="kl-record"><summary><span class="kl-cents">{escape(page.money(row["cents"]))}</span>'
        f"{words.day(row['on_date'])} {escape(what)}{flags}<br><span class='kl-quiet'>{escape(where)}</span></summary>"
        f"{because}{paid}</details>"
    )


def _fields(page: Page, title: str, record: dict[str, Any]) -> str:
    entries = "".join(
        f"<dt>{escape(_field_name(name))}</dt><dd>{escape(_field(page, name, value))}</dd>"
        for name, value in record.items()
        if value is not None and name != "row_id" and not name.endswith("_unit")
        for value in [_with_unit(record, name, value)]
    )
    return f"<dl><dt>{escape(title)}</dt><dd></dd>{entries}</dl>"


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


def meaning(record: str, field: str) -> str:
    """What a field of a record means, in the words of the record types."""
    return next((f.meaning for f in RECORDS[record] if f.name == field), "") if record in RECORDS else ""


def month_names(months: pl.DataFrame) -> dict[str, date]:
    """`2026-09` → its first day, the latest first."""
    return {f"{month:%Y-%m}": month for month in sorted(months["month"].to_list(), reverse=True)}


def choose_month(page: Page) -> date | None:
    """The month that the pages look at: the last one that is over, unless another is chosen."""
    months = page.book.months()
    names = month_names(months)
    if not names:
        return None
    over = month_names(months.filter("whole"))
    return names[choose("Month", "month", list(names), next(iter(over), None))]
