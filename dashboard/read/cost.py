"""What pieces and lots cost, and the records behind it."""

from datetime import date
from typing import Any

import polars as pl

from dashboard.read.tables import INTO_PIECES, PROVENANCE, SHOWN, Tables


class Cost(Tables):
    """`cost`."""

    def pieces(self) -> pl.DataFrame:
        """`cost.piece`: a piece or run with what went into it and the channels it was sold on, the latest first."""
        query = """
            with sold as (
                select piece, list(distinct channel order by channel) as channels from money.sold
                where channel is not null group by piece
            )
            select piece.* replace (case when not without_material then logged_share end as logged_share),
                coalesce(sold.channels, []) as channels
            from cost.piece as piece left join sold on sold.piece = piece.piece
            order by finished desc nulls last, started desc, piece.piece
        """
        return self._frame(query)

    def kinds(self) -> dict[str, list[str]]:
        """The products, species, finishes and channels on record."""
        pieces = self.pieces()
        made = {name: pieces[name].drop_nulls().unique().sort().to_list() for name in ("product", "species", "finish")}
        return made | {"channel": pieces["channels"].explode().drop_nulls().unique().sort().to_list()}

    def products(self) -> pl.DataFrame:
        """`cost.product`: what one of a product usually costs."""
        return self._frame("from cost.product order by product")

    def operations_with(self, product: str, finish: str | None) -> list[str]:
        """`cost.piece_line`: the work that went into any piece of a product with this finish."""
        query = """
            select distinct line.operation from cost.piece_line as line
            join cost.piece as piece on piece.piece = line.piece
            where line.layer = 'labour' and line.cents > 0 and piece.product = $product
                and piece.finish is not distinct from $finish
        """
        return self._frame(query, product=product, finish=finish)["operation"].to_list()

    def usual_units(self, product: str) -> int:
        """`cost.product`: how many of a product are usually made at once."""
        return next(iter(self.products().filter(pl.col("product") == product)["usual_units"]), 1)

    def piece_lines(self, piece: str) -> pl.DataFrame:
        """`cost.piece_line`: a piece's cost by layer and operation, beside what is usual where that can be told."""
        query = """
            select * replace (usual_told(usual_cents, usual_pieces) as usual_cents)
            from cost.piece_line where piece = $piece
            order by cents desc, usual_cents desc nulls last, layer, operation
        """
        return self._frame(query, piece=piece)

    def piece_layers(self, piece: str) -> pl.DataFrame:
        """`cost.piece_layer`: a piece's cost by layer, beside what is usual where that can be told."""
        query = """
            select * replace (usual_told(usual_cents, usual_pieces) as usual_cents)
            from cost.piece_layer where piece = $piece order by cents desc, usual_cents desc nulls last, layer
        """
        return self._frame(query, piece=piece)

    def piece_place(self, piece: str) -> dict[str, Any] | None:
        """`records.pieces`: where the row of a piece stands, as it is told to be mended."""
        query = """
            select place.file, place.sheet, place.row, place.occurrence, 'pieces' as record, 'finished' as field,
                '' as reason, '' as suggestion
            from records.pieces join intake.row as place on place.row_id = pieces.row_id
            where pieces.piece = $piece
        """
        return next(self._frame(query, piece=piece).iter_rows(named=True), None)

    def without_cost(self, piece: str) -> list[tuple[str, str]]:
        """`cost.without_cost`: what is in a piece for nothing, since nobody knows what it costs, as (layer, item)."""
        query = "select layer, item from cost.without_cost where piece = $piece order by layer, item"
        return self._frame(query, piece=piece).rows()

    def piece_trace(self, piece: str, layer: str) -> pl.DataFrame:
        """`cost.moved`: what went into a piece in one layer, with its records and its share of their hours."""
        query = f"""
            select trace.*, {PROVENANCE}, share.seconds as share_seconds, share.shared_by, hours.seconds as all_seconds,
                hours.driver, hours.attended
            from {INTO_PIECES} as trace
            left join work.hours_piece as share on share.row_id = trace.row_id and share.piece = trace.piece
            left join work.hours as hours on hours.row_id = share.row_id
            left join intake.row as because on because.row_id = trace.row_id
            left join intake.row as paid on paid.row_id = trace.paid_row_id
            where trace.piece = $piece and layer = $layer
            order by trace.on_date, trace.layer, trace.operation, cents desc, trace.row_id, paid_row_id
            limit {SHOWN}
        """
        return self._frame(query, piece=piece, layer=layer)

    def piece_estimated(self, piece: str) -> list[str]:
        """`cost.trace`: the layers of a piece that hold what is estimated, most of it first."""
        query = """
            select layer from cost.trace where piece = $piece and to_place = 'piece' and estimated
            group by layer having sum(cents) > 0 order by sum(cents) desc, layer
        """
        return self._frame(query, piece=piece)["layer"].to_list()

    def piece_left(self, piece: str) -> pl.DataFrame:
        """`work.list_price`, `money.sold` and `records.inspections` of a piece, by day.

        What was asked, how it left, what was found: each with where it stands. A price without a day of its own has
        been asked from the first on.
        """
        query = """
            select case when sold.units < 0 then 'came back' else 'sold' end as what, sold.on_date,
                sold.channel as detail, sold.units, sold.price_cents, sold.revenue_cents, rows.file, rows.sheet,
                rows.row, rows.row_id
            from money.sold
            left join intake.row as rows on rows.row_id = sold.row_id
            where sold.piece = $piece
            union all
            select 'inspected', on_date,
                concat_ws(': ', case defect when 'none' then 'no defect' else defect end, action), quantity, null, null,
                rows.file, rows.sheet, rows.row, rows.row_id
            from records.inspections left join intake.row as rows on rows.row_id = inspections.row_id
            where piece = $piece
            union all
            select 'price asked', nullif(asked.from_date, date '0001-01-01'), null, null, asked.list_price_cents, null,
                rows.file, rows.sheet, rows.row, rows.row_id
            from work.list_price as asked left join intake.row as rows on rows.row_id = asked.row_id
            where asked.piece = $piece
            order by on_date nulls first, what, rows.row_id
        """
        return self._frame(query, piece=piece)

    def piece_gone(self, piece: str) -> dict[str, int]:
        """`money.sold` and `work.exit` of a piece: units sold, what they brought, and units that are still there."""
        query = """
            select coalesce(sum(sold.units), 0)::bigint as sold, coalesce(sum(sold.revenue_cents), 0)::bigint as cents,
                (
                    select piece.quantity - coalesce((
                        select arg_max(units_out, number) from work.exit where piece = $piece
                    ), 0) from cost.piece as piece where piece = $piece
                ) as here
            from money.sold
            where piece = $piece
        """
        return self._frame(query, piece=piece).row(0, named=True)

    def pool_rates(self, month: date) -> pl.DataFrame:
        """`cost.pool_rate` of a month: the rate at which each pool and machine goes into pieces."""
        return self._frame("from cost.pool_rate where month = $month order by layer, pool", month=month)

    def lots(self) -> pl.DataFrame:
        """`cost.lot`: a purchase line as a lot."""
        return self._frame("from cost.lot order by bought_on desc, item, lot, bought desc, lot_id")

    def record_trace(self, row_id: int) -> pl.DataFrame:
        """`cost.trace`: what one record moved, with the records that paid for it."""
        query = f"""
            select trace.*, {PROVENANCE}
            from cost.trace as trace
            left join intake.row as because on because.row_id = trace.row_id
            left join intake.row as paid on paid.row_id = trace.paid_row_id
            where trace.row_id = $row_id
            order by on_date, cents desc, trace.layer, trace.operation, trace.row_id, paid_row_id
            limit {SHOWN}
        """
        return self._frame(query, row_id=row_id)
