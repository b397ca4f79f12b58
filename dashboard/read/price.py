"""What prices must be, and what the market paid."""

import polars as pl

from dashboard.read.tables import Tables


class Price(Tables):
    """`price`."""

    def relist(self) -> pl.DataFrame:
        """`price.relist`: an unsold piece whose list price leaves less than it would cost today."""
        return self._frame("from price.relist order by short_cents desc, piece")

    def what_if(self) -> pl.DataFrame:
        """`price.what_if`: what a dearer hour or dearer resin does to a product's cost and price."""
        return self._frame("from price.what_if order by change, added_cents desc, product")

    def market(self) -> pl.DataFrame:
        """`price.market`: what buyers paid, by product and channel."""
        return self._frame("from price.market order by product, channel")

    def listed_prices(self) -> int:
        """`price.history`: how many pieces have a price asked for them."""
        return int(self._frame("select count(list_price_cents) as prices from price.history").item())

    def sell_time(self) -> pl.DataFrame:
        """`price.sell_time`: how long a piece waits for its buyer, unsold ones counted."""
        return self._frame("from price.sell_time order by factor, level")

    def sell_curve(self) -> pl.DataFrame:
        """`price.sell_curve`: the share still unsold, day by day."""
        return self._frame("from price.sell_curve order by factor, level, wait_days")

    def backtest(self) -> pl.DataFrame:
        """`price.backtest`: how well pieces were predicted from what was known before them, the whole shop first."""
        query = """
            from price.backtest
            order by case factor when 'all' then 1 when 'size' then 2 else 3 end, pieces desc, level
        """
        return self._frame(query)

    def quoted(self) -> pl.DataFrame:
        """`price.quoted`: a saved quote beside what the piece cost in the end, the latest first."""
        return self._frame("from price.quoted order by on_date desc, quote")
