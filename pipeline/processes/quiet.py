"""What libraries say on their own stays off the terminal: panics and backtraces, warnings, their logs.

Such a message is written for whoever programs, and may repeat what stands in a cell. A command's own words, on
`sys.stdout` and `sys.stderr`, go where they always went.
"""

import logging
import os
import sys
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any

ERRORS = 2
"""The handle that libraries not written in Python write their messages to."""


@contextmanager
def quiet() -> Iterator[None]:
    """Let nobody but us write to the terminal while the block runs; processes begun in it neither."""
    os.environ["RUST_BACKTRACE"] = "0"
    try:
        terminal = os.dup(ERRORS)
    except OSError:  # it was closed: nothing to keep clean
        yield
        return
    before = sys.stderr
    nothing = os.open(os.devnull, os.O_WRONLY)
    if _writes_to(before, ERRORS):
        before.flush()
        sys.stderr = open(  # noqa: SIM115, PTH123 (closed below; of a handle, which is no path)
            os.dup(terminal), "w", encoding=before.encoding, errors=before.errors, buffering=1
        )
    os.dup2(nothing, ERRORS)
    try:
        with _hooks():
            yield
    finally:
        with suppress(OSError, ValueError):
            sys.stderr.flush()
        os.dup2(terminal, ERRORS)
        if sys.stderr is not before:
            with suppress(OSError):
                sys.stderr.close()
            sys.stderr = before
        for handle in (terminal, nothing):
            os.close(handle)


@contextmanager
def _hooks() -> Iterator[None]:
    """Python's own ways of telling what nobody caught, silent; one that somebody else put in stays."""
    kept = logging.lastResort
    logging.lastResort = logging.NullHandler()
    ways = [(threading, "excepthook", threading.__excepthook__), (sys, "unraisablehook", sys.__unraisablehook__)]
    silent = [(owner, name, way) for owner, name, way in ways if getattr(owner, name) is way]
    for owner, name, _ in silent:
        setattr(owner, name, _say_nothing)
    try:
        with warnings.catch_warnings():
            if not sys.warnoptions and not os.environ.get("PYTEST_VERSION"):
                warnings.simplefilter("ignore")
            yield
    finally:
        logging.lastResort = kept
        for owner, name, way in silent:
            setattr(owner, name, way)


def _say_nothing(*_: Any) -> None:
    pass


def _writes_to(stream: Any, handle: int) -> bool:
    try:
        return bool(stream.fileno() == handle)
    except (AttributeError, OSError, ValueError):
        return False
