"""For the shop floor, in the dashboard's process: puts down what forms can offer, refreshes what was written there."""

import sys
import threading
import time
from pathlib import Path

from dashboard import data
from dashboard.floor import offers
from dashboard.view_context import page_of
from pipeline.pages import actions, from_the_floor

EVERY_S = 2.0


class Follower:
    """Looks, each time it is asked to, whether something was published or written since."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._offered: data.Edition | bool | None = False
        newest, written = data.newest(folder), from_the_floor.written(folder)
        self._refreshed = written if newest and written <= newest.stamp[0] else 0

    def look(self) -> None:
        written = from_the_floor.written(self._folder)
        if written != self._refreshed:  # a clock that was put back makes it less
            self._refreshed = written
            actions.start_refresh(self._folder)
        newest = data.newest(self._folder)
        if newest != self._offered:
            offers.write(self._folder, page_of(data.open_book(self._folder)) if newest else None)
            self._offered = newest


def follow(folder: Path) -> None:
    """Look every few seconds, for as long as this process lives."""
    follower = Follower(folder)

    def go_on() -> None:
        said = ""
        while True:
            try:
                follower.look()
                said = ""
            except Exception as error:  # it looks again; a page tells what is wrong with the shop
                if (place := actions.place_of(error)) != said:
                    print(place, file=sys.stderr, flush=True)
                said = place
            time.sleep(EVERY_S)

    threading.Thread(target=go_on, daemon=True).start()
