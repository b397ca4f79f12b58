"""Profiles of the oracle's tests: the same few shops on every run, or so many new ones (`tests/whole.py`)."""

from hypothesis import HealthCheck, Phase, settings

from tests.whole import DRAWN

settings.register_profile(
    "oracle",
    max_examples=DRAWN or 2,
    derandomize=not DRAWN,
    database=None,
    deadline=None,
    # a shop is drawn from a seed, and a smaller seed is no simpler shop
    phases=[Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
