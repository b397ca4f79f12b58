"""A fault while a page is made: a sentence on the page, its type and place in the log, and no text of a cell."""

import logging
import sys
import threading
from html import escape
from pathlib import Path
from types import TracebackType
from typing import Any

from pipeline.pages.actions import place_of


def show(log: Path | None, _: Exception) -> bool:
    """Say on the page what to do about a fault. True: nothing else is shown of it."""
    import streamlit as st

    noted = f" Where it went wrong is noted in {log}." if log else ""
    st.html(
        '<div class="kl-do kl-fault" role="alert"><p>This page could not be made, by a fault of the tool, not of your '
        f"files: load it again, or refresh the shop if that doesn't help.</p>{escape(noted)}</div>"
    )
    return True


def keep_text_out_of_logs() -> None:
    """Let no logger of this process write the message of an exception: libraries quote cells in theirs."""
    make = logging.getLogRecordFactory()

    def record(*args: Any, **named: Any) -> logging.LogRecord:
        made = make(*args, **named)
        if isinstance(made.exc_info, tuple) and made.exc_info[1]:
            made.msg, made.args = f"{made.getMessage()}: {place_of(made.exc_info[1])}", None
        made.exc_info = None
        return made

    logging.setLogRecordFactory(record)
    sys.excepthook = _print
    threading.excepthook = lambda thread: _print(thread.exc_type, thread.exc_value, thread.exc_traceback)


def _print(kind: type[BaseException], error: BaseException | None, _: TracebackType | None) -> None:
    print(place_of(error) if error else kind.__name__, file=sys.stderr, flush=True)
