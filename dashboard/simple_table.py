"""A small table of texts, for what stands in no database yet."""

from collections.abc import Collection, Mapping
from html import escape

import polars as pl
import streamlit as st

from dashboard import words


def table(frame: pl.DataFrame, headings: Mapping[str, str], name: str, whole: Collection[str] = ()) -> None:
    """The columns named in `headings`, as a table that wraps on a phone, but for those that are to stay `whole`."""
    head = "".join(f'<th scope="col">{escape(heading)}</th>' for heading in headings.values())
    wraps = {column: "" if column in whole else ' class="long"' for column in headings}
    body = "".join(
        f"<tr>{''.join(f'<td{wraps[column]}>{escape(words.field_text(row[column]))}</td>' for column in headings)}</tr>"
        for row in frame.iter_rows(named=True)
    )
    label = escape(name)
    st.html(
        f'<div class="kl-scroll" tabindex="0" role="region" aria-label="{label}">'
        f'<table class="kl kl-plain"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>'
    )
