"""The dashboard: the list of pages, the navigation, the shop and the time of the last refresh."""

import gc
from collections.abc import Callable, Collection
from dataclasses import dataclass
from html import escape
from importlib import import_module
from urllib.parse import unquote, urlsplit

import streamlit as st

from dashboard import address_keys, data, details, links, refreshing, widgets
from dashboard.views import (
    files,
    getting_started,
    log,
    materials,
    month,
    pieces,
    pricing,
    rework,
    settings,
    stock,
    this_week,
    year,
)
from dashboard.wrong_address import WrongAddressError, look_up

# Altair looks for it among the modules loaded, and must not find it half loaded by another session
import_module("pandas")


@dataclass(frozen=True)
class View:
    """A page: its title, its part of the address, the function that shows it, and whose estimates it rests on."""

    title: str
    path: str
    show: Callable[[widgets.Page], None]
    schema: str = ""


VIEWS = (
    View("Month", "month", month.show),
    View("Year", "year", year.show, "quality"),
    View("Week", "week", this_week.show, "quality"),
    View("Pieces", "pieces", pieces.show),
    View("Materials", "materials", materials.show, "material"),
    View("Rework", "rework", rework.show, "quality"),
    View("Pricing", "pricing", pricing.show, "price"),
    View("Stock", "stock", stock.show, "work"),
    View("Log", "log", log.show),
    View("Files", "files", files.show),
    View("Settings", "settings", settings.show),
)
START = View("Start", "start", getting_started.show)


def main() -> None:
    if not gc.get_freeze_count():
        # Streamlit looks for garbage after each run of a page or of a part of it: a tenth of a second in the libraries
        gc.freeze()
    st.set_page_config("Kerfledger", layout="wide", initial_sidebar_state="collapsed")
    widgets.wear_look()
    folder = data.shop_folder()
    newest = data.newest(folder)
    try:
        book = data.open_book(folder)
    except data.NothingPublishedError:
        book = None
    views = VIEWS if book and not getting_started.is_young(book) else (START, *VIEWS)
    pages = {view.path: st.Page(_shown(view, book), title=view.title, url_path=view.path) for view in views if book}
    # the first page has no address of its own; by its name it is found all the same
    home = st.Page(_shown(views[0], book), title=views[0].title, default=True)
    # with nothing published it is the same page at the same place, so that the first figures take no form away
    chosen = st.navigation([home, *pages.values(), *_not_there(pages)], position="hidden")
    made = links.run_scripts()
    _heading(book)
    with st.container(key="pages", horizontal=True, gap="small"):
        # what is chosen goes along to the next page, what is open doesn't
        along = _along(book) if book else {}
        for page in pages.values():
            st.page_link(home if chosen == home and page.title == home.title else page, query_params=along)
    chosen.run()
    refreshing.watch(folder, newest)
    made()


def _not_there(pages: Collection[str]) -> list[st.Page]:
    """A page that says so of one that the address names and that isn't here. Streamlit would show the first instead.

    With nothing published there is one page, whatever the address is.
    """
    wanted = unquote(urlsplit(st.context.url or "").path).strip("/").strip()
    if not pages or not wanted or wanted in pages or "/" in wanted:  # no page of Streamlit's can have a slash
        return []
    return [st.Page(lambda: _wrong(WrongAddressError("Page", "", wanted)), title="Not here", url_path=wanted)]


def _shown(view: View, book: data.Book | None) -> Callable[[], None]:
    def show() -> None:
        if not book:
            getting_started.show_unpublished(data.shop_folder())
            return
        try:
            page = widgets.page_of(book)
            _lacking(book, view.schema)
            draw(view, page)
        except data.LACKING as error:
            if not data.lacks(error):
                raise
            widgets.empty(
                "This database is of an older version.", f"Make a new one with: kerfledger refresh {data.shop_folder()}"
            )

    return show


def draw(view: View, page: widgets.Page) -> None:
    """A page and what is opened on it; where its address names what isn't there, that in its place."""
    room = st.empty()
    try:
        with room.container():
            _look_up_keys()
            _look_up_held(page.book)
            view.show(page)
    except WrongAddressError as error:
        room.empty()  # what was drawn so far; another container at that place would go on with it
        _wrong(error)
    else:
        details.show(page)


def _held(book: data.Book) -> dict[str, Collection[str]]:
    """What the choices that hold on every page can be, each under its name in the address."""
    names = widgets.month_names(book.months())
    known = {**book.kinds(), "month": list(names), "units": ["metric", "us"]}
    return {name: [links.ANY, *known[name]] for name in links.HELD}


def _look_up_keys() -> None:
    for key in st.query_params:
        if not address_keys.is_read(key):
            raise WrongAddressError("Choice", key, key)


def _look_up_held(book: data.Book) -> None:
    for name, options in _held(book).items():
        look_up(name.capitalize(), name, options)


def _along(book: data.Book) -> dict[str, str]:
    """What goes along to the other pages: all that is chosen and is there."""
    chosen = links.along(st.query_params.to_dict())
    try:
        known = _held(book) if chosen else {}
    except data.LACKING:  # of a database of an older version, of which the page says so
        return {}
    return {name: value for name, value in chosen.items() if value in known[name]}


def _wrong(error: WrongAddressError) -> None:
    widgets.answer("Nothing is shown for this address.", f"{error.label}: there is no “{error.named}” here.")
    if not error.key:
        widgets.say("It was mistyped, or is of another version. The pages are named above.")
        return
    widgets.say("It was mistyped, or what it named is on record no more. No other stands in its place.")

    def without() -> None:
        st.query_params.pop(error.key, None)

    st.button("Show the page without it", on_click=without, key="without")


def _lacking(book: data.Book, schema: str) -> None:
    """Says which figures of the page are missing because their estimate failed, not for want of records."""
    failed = book.failed_estimates(schema)
    if failed.height:
        widgets.empty(
            f"What this page lacks could not be worked out: {', '.join(failed['estimate'])}.",
            "Your records are not at fault, and all other figures stand. kerfledger check names what to report.",
        )


def _heading(book: data.Book | None) -> None:
    if not book:
        st.html("<!-- nothing is published yet -->")
        return
    shop = book.shop()
    refreshed = book.edition.refreshed(shop["time_zone"])
    st.html(
        f'<div class="kl-shop"><b title="{escape(shop["name"], quote=True)}">{escape(shop["name"])}</b>'
        f'<span class="kl-quiet">refreshed {refreshed:%Y-%m-%d %H:%M}, in '
        f"{escape(shop['currency'])}</span></div>"
    )


if __name__ == "__main__":
    main()
