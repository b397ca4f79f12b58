"""How often something may be tried: so many times in a span of time, by each address and by all together."""

from collections import deque
from collections.abc import Callable


class Tries:
    """Tries of the last `span_s` seconds. What is over the limit isn't counted, so that no list grows."""

    def __init__(self, now: Callable[[], float], span_s: float, each: int, all_: int) -> None:
        self._now, self._span_s, self._each, self._all = now, span_s, each, all_
        self._made: deque[tuple[float, str]] = deque()

    def one_more(self, who: str) -> bool:
        """Whether `who` may try now; if so, it counts as a try."""
        now = self._now()
        while self._made and not 0 <= now - self._made[0][0] < self._span_s:
            self._made.popleft()
        if len(self._made) >= self._all or sum(1 for _, other in self._made if other == who) >= self._each:
            return False
        self._made.append((now, who))
        return True
