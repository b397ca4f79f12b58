"""What comes back to the bench."""

from collections.abc import Sequence
from typing import Any

import polars as pl

from dashboard.read.tables import Tables


class Quality(Tables):
    """`quality`."""

    def rates(self) -> pl.DataFrame:
        """`quality.rate`: how often a group comes back to the bench."""
        return self._frame("from quality.rate order by factor, measure, adjusted desc, level")

    def shop_rate(self, measure: str) -> float | None:
        """The whole shop's share by a measure of `quality.rate`: every piece is of one product."""
        query = """
            select sum(events) / sum(pieces) as rate from quality.rate
            where factor = 'product' and measure = $measure
        """
        return self._frame(query, measure=measure)["rate"].item()

    def came_back(self, factor: str, level: str) -> dict[str, int]:
        """How many of a group came back of how many, `events` and `pieces`, and of the factor's other groups."""
        query = """
            select
                coalesce(sum(events) filter (where level = $level), 0)::bigint as events,
                coalesce(sum(pieces) filter (where level = $level), 0)::bigint as pieces,
                coalesce(sum(events) filter (where level <> $level), 0)::bigint as other_events,
                coalesce(sum(pieces) filter (where level <> $level), 0)::bigint as other_pieces
            from quality.rate where measure = 'rework' and factor = $factor
        """
        return self._frame(query, factor=factor, level=level).row(0, named=True)

    def rework_months(self) -> pl.DataFrame:
        """`quality.month`: first-pass yield by month with control limits."""
        return self._frame("from quality.month order by month")

    def finding_time(self) -> dict[str, Any] | None:
        """`quality.finding_time`: how long most findings take, and the pieces too young to be judged."""
        return next(self._frame("from quality.finding_time").iter_rows(named=True), None)

    def rework_total(self) -> dict[str, Any] | None:
        """`quality.rework_total`: the whole shop's share that came back, its hours and its money."""
        return next(self._frame("from quality.rework_total").iter_rows(named=True), None)

    def savings(self) -> pl.DataFrame:
        """`quality.saving`: a group's rework beyond comparable pieces', with what it leaves (`money.group_margin`), and
        for an hour where that is known of it (`money.margin`)."""
        query = """
            select rework.*, margins.units, margins.margin_per_month_cents, every.contribution_per_hour_cents
            from quality.saving as rework left join money.group_margin as margins using (factor, level)
            left join money.margin as every
                on every.factor = rework.factor and every.level = rework.level and every.span = 'all'
            order by rework.cents_per_month desc, rework.factor, rework.level
        """
        return self._frame(query)

    def changes(self) -> pl.DataFrame:
        """`quality.change`: rates before and after a dated change."""
        return self._frame("from quality.change order by day, change, measure")

    def defects(self, pieces: Sequence[str] | None = None) -> pl.DataFrame:
        """`quality.defect`: a defect and what was decided, dearest first; of these pieces, from `quality.found`."""
        if pieces is None:
            return self._frame("from quality.defect order by cents desc, defect, action")
        query = """
            select defect, action, count(*) as found, count(distinct piece) as pieces, sum(cents)::bigint as cents
            from quality.found where list_contains($pieces, piece)
            group by defect, action order by cents desc, defect, action
        """
        return self._frame(query, pieces=sorted(pieces))

    def dearest_defect(self, pieces: Sequence[str] | None = None) -> dict[str, Any] | None:
        """`quality.found`: the defect that cost most, whatever was decided; of all, or of these pieces."""
        query = """
            select defect, count(distinct piece) as pieces, sum(cents)::bigint as cents from quality.found
            where $pieces::varchar[] is null or list_contains($pieces::varchar[], piece)
            group by defect order by cents desc, defect limit 1
        """
        found = self._frame(query, pieces=None if pieces is None else sorted(pieces))
        return found.row(0, named=True) if found.height else None

    def found_at(self, pieces: Sequence[str] | None = None) -> pl.DataFrame:
        """`quality.found` by the operation that found it and the cause written down; all, or of these pieces."""
        query = """
            select coalesce(found_at, 'not said') as found_at, coalesce(cause_said, 'not said') as cause_said, defect,
                count(*) as found, count(distinct piece) as pieces, sum(cents)::bigint as cents
            from quality.found where $pieces::varchar[] is null or list_contains($pieces::varchar[], piece)
            group by all order by cents desc, defect, found_at, cause_said
        """
        return self._frame(query, pieces=None if pieces is None else sorted(pieces))

    def judged(self, factor: str, level: str) -> pl.DataFrame:
        """`quality.piece`: the judged pieces of a group, those that came back first."""
        query = """
            select judged.*, piece.product, piece.species, piece.finish
            from quality.piece as judged join cost.piece as piece on piece.piece = judged.piece
            where factor = $factor and level = $level
            order by judged.rework_cents + judged.scrap_cents desc, judged.reworked desc, judged.piece
        """
        return self._frame(query, factor=factor, level=level)

    def inspections(self) -> pl.DataFrame:
        """`quality.found` with the piece and where the inspection stands, latest first."""
        query = """
            select looks.*, pieces.product, pieces.species, pieces.finish, rows.file, rows.sheet, rows.row
            from quality.found as looks
            join cost.piece as pieces on pieces.piece = looks.piece
            left join intake.row as rows on rows.row_id = looks.row_id
            order by looks.on_date desc, looks.piece, looks.defect, looks.row_id
        """
        return self._frame(query)
