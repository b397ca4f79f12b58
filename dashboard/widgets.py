"""What pages are built of: the answer, figures, pictures, tables, choices in the address, and the records behind."""

from calendar import monthrange
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import astuple, dataclass
from datetime import date
from functools import partial
from html import escape
from pathlib import Path
from typing import Any

import polars as pl
import streamlit as st

from dashboard import links
from dashboard.charts import cached as pictures
from dashboard.charts import small_bars, theme
from dashboard.charts.cached import SentChart
from dashboard.charts.drawn_rows import rows_of
from dashboard.links import ANY, Lead, behind
from dashboard.meanings import one_stop, term
from dashboard.records_table import records
from dashboard.tables import Column, csv, placed, rows, table
from dashboard.verbatim import verbatim
from dashboard.view_context import Page, page_of
from dashboard.wrong_address import look_up, look_up_switch

__all__ = [
    "ANY", "Column", "Lead", "Narrowed", "Page", "SentChart", "advice", "answer", "behind", "caution", "choosable",
    "choose", "choose_among", "choose_any_month", "choose_month", "choose_units", "csv", "empty", "figures",
    "filters", "folded", "head", "hold", "rows_chosen", "last_day", "month_names", "narrow", "narrowed",
    "page_of", "part", "picture", "placed", "records", "rows", "say", "small_ones", "switch", "table", "wear_look",
]  # fmt: skip

NARROWED_BY = ("product", "species", "finish", "channel")

_LOOK = Path(__file__).with_name("look.css")


def wear_look() -> None:
    """Put our style sheet on the page."""
    st.html(_LOOK)
    if st.context.theme.type == "dark":
        # on the pale main colour of the night its white letters can't be read
        dark = theme.NIGHT.paper
        st.html(f'<style>:root {{ --kl-paper: {dark}; }} button[kind^="primary"] p {{ color: {dark}; }}</style>')


def head() -> Any:
    """Room for the answer, above the choices that it depends on."""
    return st.container()


def answer(question: str, sentence: str, where: Any = st) -> None:
    """The page's question and, as its heading, the answer with its figures."""
    where.html(f'<p class="kl-question">{escape(question)}</p><h1 class="kl-answer">{_whole(sentence)}</h1>')


def _whole(sentence: str) -> str:
    """A sentence as HTML, in which no line breaks between a figure and its percent sign."""
    return escape(sentence).replace(" %", "\u00a0%")


def part(title: str, name: str = "") -> None:
    """A heading within the page; by its name a link finds it."""
    named = f' id="{escape(name, quote=True)}"' if name else ""
    st.html(f'<h2 class="kl-part"{named}>{escape(title)}</h2>')


def say(sentence: str, quiet: bool = False) -> None:
    """A sentence of its own."""
    look = ' class="kl-quiet"' if quiet else ""
    st.html(f"<p{look}>{_whole(sentence)}</p>")


def folded(label: str, key: str, led_by: str = "") -> Any:
    """A fold that says what is in it. Gives its container while it is open, else None: then nothing is worked out.

    A choice in it, of the name `led_by`, opens it: made by a link, by a mark of a picture, or in the address.
    """
    links.remember(key)
    look_up_switch("Part of the page", key)
    if led_by:
        links.opens_by(key, led_by)
    box = st.expander(verbatim(label), key=key, on_change="rerun", bind="query-params")
    return box if box.open else None


def figures(entries: Iterable[tuple[str, ...]], page: Page | None = None, look: str = "") -> None:
    """A row of figures: name, figure, a note below it, the column whose meaning the name shows, and the name of the
    part of the page that the figure leads to, or the fold (`?key`), which opens then. `look` is a class of our style
    sheet: `kl-hero` makes the first the largest."""
    cells = one_stop("".join(_figure(page, *entry) for entry in entries))
    st.html(f'<dl class="{f"kl-figures {look}".rstrip()}">{cells}</dl>')


def _figure(page: Page | None, name: str, figure: str, note: str, column: str = "", leads: str = "") -> str:
    named = term(page, name, column, f"figure-{name}") if page else escape(name)
    there = f"#{leads}"
    if leads.startswith("?"):
        there = f"{links.address(leads, 'true', st.query_params.to_dict())}#{leads[1:]}"
    shown = f'<a href="{escape(there, quote=True)}" target="_self">{escape(figure)}</a>' if leads else escape(figure)
    return f"<div><dt>{named}</dt><dd>{shown}</dd><dd>{_whole(note)}</dd></div>"


MOST_MARKS = 10
"""So many groups a picture shows: a longer one can't be read at one look, and the table holds all."""

MOST_ADVICE = 3
"""So many lines are read at one look; the rest is folded."""


def advice(lines: Sequence[str]) -> None:
    """What to do about it, the dearest first; nothing at all where there is nothing to do."""
    first, rest = (
        "".join(f"<li>{_whole(line)}</li>" for line in some) for some in (lines[:MOST_ADVICE], lines[MOST_ADVICE:])
    )
    if first:
        st.html(f'<div class="kl-do"><p>What to do about it</p><ul>{first}</ul></div>')
    if rest and (box := folded(f"{len(lines) - MOST_ADVICE} more to do", "more-to-do")):
        box.html(f'<ul class="kl-more-to-do">{rest}</ul>')


def caution(text: str) -> None:
    """A caution where the work can hurt. It defers to those who know."""
    st.html(f'<p class="kl-mind"><b>Mind:</b> {escape(text)}</p>')


def empty(what: str, fill: str) -> None:
    """Says that there is nothing yet, and what record would fill the page."""
    st.html(f'<div class="kl-do"><p>{escape(what)}</p>{escape(fill)}</div>')


def small_ones(
    frame: pl.DataFrame, name: str, amount: str, key: str, keep: Collection[str] = ()
) -> tuple[pl.DataFrame, dict[str, Lead]]:
    """The bars of a picture with the small ones as one, and where that one leads: to all of them by themselves.

    The choice of it stands in the address, and is made by keyboard too. It is drawn where this is called. What is of
    another kind is to `keep` its bar, however small.
    """
    few = small_bars.small(frame, name, amount, keep)
    if not few:
        return frame, {}
    each = f"each-{key}"
    links.remember(each)
    look_up_switch("Small bars by themselves", each)
    alone = st.toggle(verbatim(f"The {len(few)} small bars each by itself"), key=each, bind="query-params")
    together = small_bars.other(few)
    return (frame, {}) if alone else (small_bars.gathered(frame, name, few), {together: (f"?{each}", "true")})


def picture(
    chart: Any,
    alt: str,
    key: str,
    field: str,
    chooses: str = "",
    write: Callable[[Any], str] = str,
    opens: Mapping[str, Lead] | None = None,
    asks: str = "",
) -> None:
    """Show a chart with its words for those who can't see it, and as a file. A click on a mark leads on by its `field`.

    With `chooses`, a click makes the choice of that key; with `opens`, it opens what the value of its `field` leads to.
    `asks` is the label of a choice of the same, where no table or choice beside the picture leads there by keyboard.
    """
    shown = chart if isinstance(chart, SentChart) else pictures.chart_data(chart)
    # as text of the page the title wraps at any width, which a chart's own title doesn't
    st.html(f'<p class="kl-title">{escape(shown.title)}</p>')
    # closing what a mark opened lets go of the mark, so that it can be clicked again
    own = f"{key}-{times}" if (times := links.times_closed(key)) else key
    then = _opening(own, key, field, opens) if opens else _choosing(own, field, chooses, write)
    spec = pictures.clickable(shown.bare, field)
    st.vega_lite_chart(None, spec, theme=None, width="stretch", alt=alt, key=own, on_select=then)
    with st.container(horizontal=True, gap="small", key=f"files-{key}"):
        _file("SVG", lambda: pictures.svg(shown), key, "image/svg+xml")
        _file("PNG", lambda: pictures.png(shown), key, "image/png")
        _file("CSV", lambda: csv(rows_of(shown.spec)), key, "text/csv")
        st.html('<button type="button" class="kl-copy">Copy</button>', width="content")
    if opens and asks:
        links.ask(asks, opens, key)


def _file(kind: str, made: Callable[[], bytes], key: str, mime: str) -> None:
    name = f"{key}.{kind.lower()}".replace(" ", "-")
    label = f"As {kind}"
    st.download_button(label, made, name, mime, key=f"{kind}-{key}", type="tertiary", on_click="ignore")


def _picked(state: Any, field: str) -> str | None:
    marks = (state or {}).get("selection", {}).get("picked") or []
    return str(marks[0][field]) if marks and marks[0].get(field) is not None else None


def _choosing(key: str, field: str, chooses: str, write: Callable[[Any], str]) -> Callable[[], None]:
    def choose_it() -> None:
        picked = _picked(st.session_state.get(key), field)
        # a second click lets go of the mark: the choice stays
        if picked is not None:
            links.choose(chooses, write(picked))

    return choose_it


def _opening(own: str, key: str, field: str, opens: Mapping[str, Lead]) -> Callable[[], None]:
    return lambda: links.opens_mark(key, opens, _picked(st.session_state.get(own), field))


def choose(label: str, key: str, options: Sequence[str], start: str | None = None) -> str:
    """A choice of this page alone. It stands in the address under `key`, so that a view can be sent on."""
    options = list(options)
    first = options.index(start) if start in options else 0
    look_up(label, key, options)
    choosable(key, options, options[first])
    chosen = st.selectbox(verbatim(label), options, index=first, key=key, bind="query-params")
    return chosen if chosen in options else options[first]


def switch(label: str, key: str, options: Sequence[str], start: str | None = None) -> str:
    """A choice between two or three that all fit beside each other; in the address too."""
    options = list(options)
    first = start if start in options else options[0]
    look_up(label, key, options)
    choosable(key, options, first)
    chosen = st.segmented_control(verbatim(label), options, default=first, required=True, key=key, bind="query-params")
    return chosen if chosen in options else first


def hold(
    label: str, key: str, options: Sequence[str], start: str | None = None, widget: Callable[..., Any] = st.selectbox
) -> str:
    """A choice that holds on every page, of those in `opening.HELD`; on each it may begin with another `start`.

    The address keeps it, and nothing else does: Streamlit takes what is bound to a widget of one page out of the
    address when another page has a widget of that name.
    """
    options = list(options)
    first = start if start in options else options[0]
    wanted = st.query_params.get(key)
    chosen = wanted if wanted in options else first
    if st.session_state.get(key) != chosen:
        st.session_state[key] = chosen

    def held() -> None:
        if st.session_state[key] == first:
            st.query_params.pop(key, None)
        else:
            st.query_params[key] = st.session_state[key]

    widget(verbatim(label), options, key=key, on_change=held)
    return chosen


def choosable(key: str, options: Collection[str], first: str | None = None) -> None:
    """Choose the first, or nothing, where what was chosen before can't be chosen here."""
    # set, not forgotten: the browser would go on showing what it has, over figures of another choice
    if key in st.session_state and st.session_state[key] not in options:
        st.session_state[key] = first


def choose_among(label: str, key: str, values: Iterable[str | None]) -> str:
    """A filter over the distinct values of a column, with `ANY` first."""
    return choose(label, key, [ANY, *sorted({value for value in values if value})])


def rows_chosen(frame: pl.DataFrame, **chosen: str) -> pl.DataFrame:
    """The rows whose columns have the chosen values; `ANY` keeps all."""
    wanted = [pl.col(column) == value for column, value in chosen.items() if value != ANY]
    return frame.filter(wanted) if wanted else frame


def filters() -> Any:
    """A row for choices, which becomes a column on a phone."""
    return st.container(horizontal=True, gap="medium", vertical_alignment="bottom")


@dataclass(frozen=True)
class Narrowed:
    """What the pages are narrowed to: it selects rows, and never makes a figure anew."""

    product: str = ANY
    species: str = ANY
    finish: str = ANY
    channel: str = ANY

    @property
    def chosen(self) -> dict[str, str]:
        """What is chosen, by filter."""
        pairs = zip(NARROWED_BY, astuple(self), strict=True)
        return {name: value for name, value in pairs if value != ANY}

    @property
    def words(self) -> str:
        return ", ".join(self.chosen.values())

    def tags(self, page: Page) -> pl.Series:
        """The pieces that fit."""
        return self.pieces(page.book.pieces())["piece"]

    def tags_chosen(self, page: Page) -> list[str] | None:
        """The pieces that fit; none where nothing is chosen, so that all do."""
        return self.tags(page).to_list() if self.chosen else None

    def pieces(self, pieces: pl.DataFrame) -> pl.DataFrame:
        """The rows of `cost.piece` that fit; a piece fits a channel if one of its units was sold there."""
        alike = {name: value for name, value in self.chosen.items() if name != "channel"}
        found = rows_chosen(pieces, **alike)
        return found if self.channel == ANY else found.filter(pl.col("channels").list.contains(self.channel))

    def of_pieces(self, page: Page, frame: pl.DataFrame) -> pl.DataFrame:
        """The rows of a frame whose piece fits."""
        return frame.filter(pl.col("piece").is_in(self.tags(page).implode())) if self.chosen else frame


def narrow(page: Page) -> Narrowed:
    """The filters that hold on every page, behind one button that says what they are set to."""
    kinds = page.book.kinds()
    now = [value for name in NARROWED_BY if (value := st.query_params.get(name)) in kinds[name]]
    with st.popover(verbatim(f"Only: {', '.join(now)}") if now else "Show only …", key="narrow"):
        return Narrowed(*(hold(name.capitalize(), name, [ANY, *sorted(kinds[name])]) for name in NARROWED_BY))


def narrowed(only: Narrowed, what: str, whole: str) -> None:
    """Says which figures follow the filters, and which are the whole shop's."""
    if only.chosen:
        say(f"Only {only.words}: {what}. {whole}")


def choose_units(page: Page) -> Page:
    """The page in the units chosen: the shop's own, unless the others are asked for."""
    own = page.book.shop()["units"]
    beside = partial(st.segmented_control, required=True)
    return page.within(hold("Units", "units", ["metric", "us"], own, beside))


def month_names(months: pl.DataFrame) -> dict[str, date]:
    """`2026-09` → its first day, the latest first."""
    return {f"{month:%Y-%m}": month for month in sorted(months["month"].to_list(), reverse=True)}


def last_day(month: date) -> date:
    """The last day of a month."""
    return month.replace(day=monthrange(month.year, month.month)[1])


def choose_month(page: Page) -> date | None:
    """The month that the pages look at: the last one that is over, unless another is chosen.

    Of a shop whose records begin after it, that would show nothing: there it is the newest one with records.
    """
    months = page.book.months()
    names = month_names(months)
    if not names:
        return None
    over, recorded = months.filter(pl.col("whole")).tail(1), months.filter(pl.col("recorded")).tail(1)
    start = next(iter(month_names(over.filter(pl.col("recorded"))) or month_names(recorded)), None)
    return names[hold("Month", "month", list(names), start)]


def choose_any_month(page: Page, label: str = "Month", months: pl.DataFrame | None = None) -> date | None:
    """The same month where it only narrows: none, unless one is chosen."""
    names = month_names(page.book.months() if months is None else months)
    wanted = st.query_params.get("month", ANY)
    if wanted not in (ANY, *names):  # a month of the shop, but none of these
        say(f"{label}: none in {wanted}.", quiet=True)
    return names.get(hold(label, "month", [ANY, *names]))
