"""A second pair of hands: one more process, so that a refresh uses two cores from its first moment.

Python runs one thread at a time, and much of a refresh is Python: loading libraries, reading a pile of small files,
the estimates. Ask for hands before importing what is slow to load; the other process then loads it at the same time.
"""

import os
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from importlib import import_module
from multiprocessing import connection, get_context, parent_process
from threading import Thread
from typing import TypeVar

Item = TypeVar("Item")
Done = TypeVar("Done")

LOADED_FIRST = ("pipeline.pile", "pipeline.models")


@contextmanager
def second() -> Iterator[Executor | None]:
    """Another process to hand work to, while the block runs; None where there is but one core to run on.

    What is handed over must be a function of a module and arguments that can be pickled.
    """
    if (os.cpu_count() or 1) < 2:
        yield None
        return
    # spawned, not forked: the libraries' threads don't survive a fork, and Windows has none
    with ProcessPoolExecutor(1, get_context("spawn"), _begin) as hands:
        hands.submit(_load)
        try:
            yield hands
        finally:
            # it has nothing to tidy up, and Python's own tidying takes a quarter of a second
            hands.submit(os._exit, 0)
            hands.shutdown(wait=False)


def share(hands: Executor | None, work: Callable[[Item], Done], items: Sequence[Item]) -> Iterator[Done]:
    """`work` of each item, in order. This process begins at the front, the other at the end, until they meet."""
    if not hands:
        yield from map(work, items)
        return
    handed = [hands.submit(work, item) for item in reversed(items)]
    for future, item in zip(reversed(handed), items, strict=True):
        # one that can still be taken back has not been begun
        yield work(item) if future.cancel() else future.result()


def _begin() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the process that has the terminal; it ends this one
    Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = parent_process()
    if parent:
        connection.wait([parent.sentinel])
        os._exit(1)


def _load() -> None:
    for name in LOADED_FIRST:
        import_module(name)
