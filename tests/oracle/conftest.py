"""Profiles of the oracle's tests: the same few shops on every run; `ORACLE_SHOPS=500` draws so many new ones."""

import os

from hypothesis import HealthCheck, Phase, settings

WANTED = os.environ.get("ORACLE_SHOPS")

settings.register_profile(
    "oracle",
    max_examples=int(WANTED or "2"),
    derandomize=not WANTED,
    database=None,
    deadline=None,
    # a shop is drawn from a seed, and a smaller seed is no simpler shop
    phases=[Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
