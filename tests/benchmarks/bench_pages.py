"""How long the server takes to run a page again, page by page, on a published shop. Prints medians; asserts none.

    uv run python tests/benchmarks/bench_pages.py my-shop [more shops …]

Milliseconds depend on the machine; the last column is a ratio within this run: the time of a page over that of a script
that writes one line.
"""

import os
import statistics
import sys
import time
from pathlib import Path

# run as a script: what stands two folders up is not on the path
sys.path.insert(0, str(Path(__file__).parents[2]))

from streamlit.testing.v1 import AppTest

from dashboard.app import VIEWS
from dashboard.data import SHOP_VARIABLE

RUNS = 15


def one_page(path: str) -> None:
    # a script of its own: Streamlit runs its source, so it brings its imports along
    from dashboard import data, widgets
    from dashboard.app import VIEWS

    view = next(view for view in VIEWS if view.path == path)
    view.show(widgets.page_of(data.open_book(data.shop_folder())))


def one_line() -> None:
    import streamlit as st

    st.html("<p>one line</p>")


def timed(test: AppTest) -> tuple[float, float]:
    """Seconds of the first run, and the median of those after it."""
    begun = time.perf_counter()
    test.run()
    first = time.perf_counter() - begun
    times = []
    for _ in range(RUNS):
        begun = time.perf_counter()
        test.run()
        times.append(time.perf_counter() - begun)
        assert not test.exception
    return first, statistics.median(times)


def main(shops: list[str]) -> None:
    _, line = timed(AppTest.from_function(one_line, default_timeout=60))
    for shop in shops:
        os.environ[SHOP_VARIABLE] = shop
        print(f"{shop}: median of {RUNS} runs after the first")
        for view in VIEWS:
            first, again = timed(AppTest.from_function(one_page, args=(view.path,), default_timeout=120))
            print(
                f"  {view.title:10} {again * 1000:6.0f} ms  (first {first * 1000:6.0f} ms)  {again / line:5.1f} lines"
            )


if __name__ == "__main__":
    if len(sys.argv) < 2:
        raise SystemExit("Name a shop folder with a published database.")
    main(sys.argv[1:])
