"""What is worth doing next."""

import polars as pl

from dashboard.read.tables import Tables


class Advice(Tables):
    """`advice`."""

    def worth_doing(self) -> pl.DataFrame:
        """`advice.worth_doing`: a thing worth doing, the most worth first."""
        return self._frame("from advice.worth_doing order by position")
