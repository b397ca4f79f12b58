"""What comes back to the bench."""

import polars as pl

from dashboard.read.tables import Tables


class Quality(Tables):
    """`quality`."""

    def rates(self) -> pl.DataFrame:
        """`quality.rate`: how often a group comes back to the bench."""
        return self._frame("from quality.rate order by factor, measure, adjusted desc, level")

    def rework_months(self) -> pl.DataFrame:
        """`quality.month`: first-pass yield by month with control limits."""
        return self._frame("from quality.month order by month")

    def savings(self) -> pl.DataFrame:
        """`quality.saving`: what stopping a group or mending a practice would save in a month."""
        return self._frame("from quality.saving order by cents_per_month desc, factor, level")

    def changes(self) -> pl.DataFrame:
        """`quality.change`: what a dated change did to the rates."""
        return self._frame("from quality.change order by day, change, measure")

    def defects(self) -> pl.DataFrame:
        """`quality.defect`: a defect and what was decided, dearest first."""
        return self._frame("from quality.defect order by cents desc, defect, action")

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
        """`records.inspections` that found something, with the piece and where they stand, latest first."""
        query = """
            select looks.on_date, looks.piece, pieces.product, pieces.species, pieces.finish, looks.defect,
                looks.action, looks.found_at, looks.cause, rows.file, rows.sheet, rows.row, looks.row_id
            from records.inspections as looks
            left join cost.piece as pieces on pieces.piece = looks.piece
            left join intake.row as rows on rows.row_id = looks.row_id
            where looks.defect is not null and looks.defect <> 'none'
            order by looks.on_date desc, looks.piece, looks.row_id
        """
        return self._frame(query)
