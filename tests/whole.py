"""The suite is a slice of what could be asked: every kind of case, not each with each. `WHOLE=1` runs them all.

Of the oracle's random shops there is no whole: it draws `DRAWN` new ones for each test, `ORACLE_SHOPS` says how many.
"""

import os
from collections.abc import Sequence
from typing import TypeVar

Case = TypeVar("Case")

WHOLE = bool(os.environ.get("WHOLE"))

DRAWN = int(os.environ.get("ORACLE_SHOPS") or (20 if WHOLE else 0))
"""How many new shops each of the oracle's tests draws; 0: the same two on every run."""


def in_slice(cases: Sequence[Case], step: int, first: int = 0) -> list[Case]:
    """Each `step`-th of the cases from `first` on, and the last; all of them where the whole is wanted."""
    return [case for n, case in enumerate(cases) if WHOLE or n % step == first % step or n == len(cases) - 1]
