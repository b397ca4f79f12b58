"""Where the resin and the wood went, and what is on the shelf."""

import polars as pl

from dashboard.read.tables import Tables


class Material(Tables):
    """`material`."""

    def pours(self) -> pl.DataFrame:
        """`material.pour`: a pour with its grams by fate, the most wasteful first."""
        return self._frame("from material.pour order by waste_cents desc, pour")

    def resin_months(self) -> pl.DataFrame:
        """`material.resin_balance`: a resin's balance by month."""
        return self._frame("from material.resin_balance order by item, month")

    def resin_spans(self) -> pl.DataFrame:
        """`material.resin_span`: a resin's way over a month, twelve months, or all."""
        return self._frame("from material.resin_span order by item, month")

    def wood_groups(self) -> pl.DataFrame:
        """`material.wood_group`: yield by species, supplier, form."""
        return self._frame("from material.wood_group order by factor, yield_share, level")

    def wood_lots(self) -> pl.DataFrame:
        """`material.wood_yield`: a wooden lot's yield."""
        return self._frame("from material.wood_yield order by bought_on desc, lot_id")
