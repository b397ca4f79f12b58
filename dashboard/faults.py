"""A fault while a page is made: a sentence on the page, its type and place in the log, and no text of a cell."""

import logging
import sys
import threading
import traceback
from html import escape
from pathlib import Path
from types import TracebackType
from typing import Any

_OURS = str(Path(__file__).parents[1])


def show(log: Path | None, _: Exception) -> bool:
    """Say on the page what to do about a fault. True: nothing else is shown of it."""
    import streamlit as st

    noted = f" What went wrong is noted in {log}." if log else ""
    what = "This page could not be made: a fault of the tool, not of your files, and nothing of yours is lost."
    st.html(
        f'<div class="kl-do kl-fault" role="alert"><p>{what}</p>Load it again; where it comes back, run '
        f"<code>kerfledger refresh</code> and open another page meanwhile.{escape(noted)}</div>"
    )
    return True


def told(error: BaseException) -> str:
    """`KeyError at dashboard/views/month.py:42 in show`: the type, and the last place of ours that it went through."""
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if frame.filename.startswith(_OURS) and "site-packages" not in frame.filename]
    if not (last := next(reversed(ours or frames), None)):
        return type(error).__name__
    return f"{type(error).__name__} at {last.filename.removeprefix(_OURS).lstrip('/')}:{last.lineno} in {last.name}"


def keep_text_out_of_logs() -> None:
    """Let no logger of this process write the message of an exception: libraries quote cells in theirs."""
    make = logging.getLogRecordFactory()

    def record(*args: Any, **named: Any) -> logging.LogRecord:
        made = make(*args, **named)
        if isinstance(made.exc_info, tuple) and made.exc_info[1]:
            made.msg, made.args = f"{made.getMessage()}: {told(made.exc_info[1])}", None
        made.exc_info = None
        return made

    logging.setLogRecordFactory(record)
    sys.excepthook = _print
    threading.excepthook = lambda thread: _print(thread.exc_type, thread.exc_value, thread.exc_traceback)


def _print(kind: type[BaseException], error: BaseException | None, _: TracebackType | None) -> None:
    print(told(error) if error else kind.__name__, file=sys.stderr, flush=True)
