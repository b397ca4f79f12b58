"""A small table of texts, for what stands in no database yet."""

from collections.abc import Mapping
from html import escape

import polars as pl
import streamlit as st

from dashboard import words


def table(frame: pl.DataFrame, headings: Mapping[str, str], name: str) -> None:
    """The columns named in `headings`, as a table that wraps on a phone."""
    head = "".join(f'<th scope="col">{escape(heading)}</th>' for heading in headings.values())
    body = "".join(
        "<tr>" + "".join(f'<td class="long">{escape(words.field_text(cell))}</td>' for cell in row) + "</tr>"
        for row in frame.select(list(headings)).iter_rows()
    )
    label = escape(name)
    st.html(
        f'<div class="kl-scroll" tabindex="0" role="region" aria-label="{label}">'
        f'<table class="kl kl-plain"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>'
    )
