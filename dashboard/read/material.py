"""Where the resin and the wood went, and what is on the shelf."""

import polars as pl

from dashboard.read.tables import Tables


class Material(Tables):
    """`material`."""

    def pours(self) -> pl.DataFrame:
        """`material.pour`: a pour with its grams by fate, the most wasteful first."""
        return self._frame("from material.pour order by waste_cents desc, pour")

    def resin_spans(self) -> pl.DataFrame:
        """`material.resin_span`: a resin's way over a month, twelve months, or all."""
        return self._frame("from material.resin_span order by item, month")

    def wood_groups(self) -> pl.DataFrame:
        """`material.wood_group`: yield by species, supplier, form."""
        return self._frame("from material.wood_group order by factor, yield_share, level")

    def wood_lots(self) -> pl.DataFrame:
        """`material.wood_yield`: a wooden lot's yield."""
        return self._frame("from material.wood_yield order by bought_on desc, lot, lot_id")

    def stock(self) -> pl.DataFrame:
        """`material.stock`: what is on the shelf, lot by lot, dearest first."""
        return self._frame("from material.stock order by on_hand_cents desc, item, lot, lot_id")

    def reorder(self) -> pl.DataFrame:
        """`material.reorder`: what the orders in hand and the usual month will need, what must be bought first."""
        query = "from material.reorder order by buy desc, months_cover nulls last, buy_cents desc, flow"
        return self._frame(query)

    def pour_needs(self) -> pl.DataFrame:
        """`material.pour_need`: what a pour should have taken beside what was mixed, most mixed for nothing first."""
        return self._frame("from material.pour_need order by over_cents desc nulls last, pour")

    def pour_groups(self) -> pl.DataFrame:
        """`material.pour_group`: the same by purpose and size."""
        return self._frame("from material.pour_group order by over_cents desc nulls last, purpose, need_size")

    def mix_hints(self) -> pl.DataFrame:
        """`material.mix_hint`: what the next pour of a resin and purpose should be mixed."""
        return self._frame("from material.mix_hint order by pours desc, resin, purpose")

    def resin_lots(self) -> pl.DataFrame:
        """`material.resin_lot`: what became of each lot of resin, the latest first."""
        return self._frame("from material.resin_lot order by bought_on desc, item, lot, lot_id")

    def reconciled(self) -> pl.DataFrame:
        """`material.reconciled`: what was measured beside what agrees with everything else."""
        return self._frame("from material.reconciled order by item, from_on, abs(standardised) desc nulls last, figure")

    def reconciled_stretches(self) -> pl.DataFrame:
        """`material.reconciled_stretch`: whether the measurements of a stretch between counts agree."""
        return self._frame("from material.reconciled_stretch order by item, from_on desc")

    def waste(self) -> pl.DataFrame:
        """`material.waste`: waste by resin, purpose and cause, with its span where only some pours were weighed."""
        return self._frame("from material.waste order by waste_g desc nulls last, resin, purpose, cause")

    def poured_pieces(self) -> pl.DataFrame:
        """`records.pours` and the pieces named by each."""
        return self._frame("select pour, piece from records.pours where piece is not null order by all")
