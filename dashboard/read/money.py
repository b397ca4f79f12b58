"""What the months made."""

from datetime import date
from typing import Any

import polars as pl

from dashboard.read.tables import PROVENANCE, SHOWN, Tables


class Money(Tables):
    """`money`."""

    def bench_pay(self, piece: str) -> dict[str, Any] | None:
        """`money.bench_pay` of a piece: what an hour of the owners' own in its sold units paid."""
        return next(self._frame("from money.bench_pay where piece = $piece", piece=piece).iter_rows(named=True), None)

    def month_lines(self, month: date, line: str, group: str) -> pl.DataFrame:
        """`money.line`: what makes a line of a month's result, or a group of its layers, with the records behind it."""
        query = f"""
            select lines.*, {PROVENANCE}
            from money.line as lines
            left join intake.row as because on because.row_id = lines.row_id
            left join intake.row as paid on paid.row_id = lines.paid_row_id
            left join settings.layer as known on known.layer = lines.layer
            where month = $month and line = $line and $group in ('', cost_group)
            order by abs(cents) desc, lines.on_date, lines.piece, lines.layer, lines.operation, lines.row_id,
                lines.paid_row_id
            limit {SHOWN}
        """
        return self._frame(query, month=month, line=line, group=group)

    def months(self) -> pl.DataFrame:
        """`money.month`: a month's result, in order."""
        return self._frame("from money.month order by month")

    def years_so_far(self) -> pl.DataFrame:
        """`money.glance` of the years so far, each with its last month that is over or runs."""
        return self._frame("from money.glance where span = 'year so far' order by month")

    def year_months(self, year: int) -> pl.DataFrame:
        """`money.glance` of a year's months, each beside the same month a year before (`before_…`).

        A month to come (`whole` is null) stands there where the one a year before is known.
        """
        query = """
            with months as (from money.glance where span = 'month'),
            of_year as (select month from months where year(month) = $year),
            shown as (
                from of_year
                union
                select (month + interval 1 year)::date from months
                where year(month) = $year - 1 and month + interval 1 year > (select max(month) from of_year)
            )
            select
                shown.month, now.* exclude (month), before.recorded_months as before_recorded_months,
                before.result_cents as before_result_cents, before.pay_per_hour_cents as before_pay_per_hour_cents,
                before.wood_pieces as before_wood_pieces, before.yield_share as before_yield_share,
                before.pours as before_pours, before.good_share as before_good_share,
                before.pieces as before_pieces, before.rework_share as before_rework_share
            from shown
            left join months as now on now.month = shown.month
            left join months as before on before.month = shown.month - interval 1 year
            order by shown.month
        """
        return self._frame(query, year=year)

    def goals(self, year: int) -> pl.DataFrame:
        """`money.goal`: what is wanted of a year, and how likely it still is."""
        query = """
            from money.goal where year = $year
            order by case goal_kind when 'result' then 1 when 'pay' then 2 else 3 end
        """
        return self._frame(query, year=year)

    def goal_years(self) -> list[int]:
        """The years of `money.goal`: those that a goal is set for."""
        return self._frame("select distinct year from money.goal order by year")["year"].to_list()

    def bridge(self, month: date, against: str) -> pl.DataFrame:
        """`money.bridge`: why a month differs from another, part by part, with what `money.difference` says of each."""
        query = """
            select bridge.*, difference.* exclude (part, part_name, part_number)
            from money.bridge
            join money.difference on difference.part = bridge.part
            where bridge.month = $month and bridge.against = $against order by bridge.part_number
        """
        return self._frame(query, month=month, against=against)

    def cash_way(self, month: date) -> pl.DataFrame:
        """`money.cash_month`: from the books result to the change of cash, line by line."""
        return self._frame("from money.cash_month where month = $month order by line_number", month=month)

    def margins(self, month: date) -> pl.DataFrame:
        """`money.margin` of a month: what each product, species, finish, channel, order and event left."""
        query = (
            "from money.margin where span = 'month' and month = $month order by factor, contribution_cents desc, level"
        )
        return self._frame(query, month=month)

    def best_use(self) -> pl.DataFrame:
        """`money.margin` of products over the last twelve months, by what an hour at the bench left."""
        query = """
            from money.margin where factor = 'product' and span = 'twelve months'
            order by contribution_per_hour_cents desc nulls last, level
        """
        return self._frame(query)

    def break_even(self, month: date) -> pl.DataFrame:
        """`money.break_even` of a month and of the one ahead, with own pay and in the books."""
        query = """
            from money.break_even where month in ($month, (select max(month) from money.break_even))
            order by month, reckoning desc
        """
        return self._frame(query, month=month)

    def earned(self, span: str, month: date) -> pl.DataFrame:
        """`money.piece_margin` of a span: what each piece left, what lost most first, with the likeliest reason."""
        query = """
            select earned.*, lost.reason, lost.reason_cents,
                (sum(earned.margin_cents) over ())::bigint as all_left_cents
            from money.piece_margin as earned
            left join money.lost as lost
                on lost.piece = earned.piece and lost.span = earned.span and lost.month = earned.month
            where earned.span = $span and (earned.span = 'all' or earned.month = $month)
            order by earned.margin_cents, earned.product, earned.piece
        """
        return self._frame(query, span=span, month=month)

    def piece_earned(self, piece: str) -> dict[str, Any] | None:
        """`money.piece_margin` of a piece over all so far."""
        query = "from money.piece_margin where piece = $piece and span = 'all'"
        return next(self._frame(query, piece=piece).iter_rows(named=True), None)

    def earned_by_product(self, span: str, month: date) -> pl.DataFrame:
        """`money.margin` of products in a span, and selling that belongs to none; what lost most first."""
        query = """
            with known as (
                select level as product, * from money.margin where factor = 'product'
                union all by name
                from money.piece_margin where product is null and piece is null
            )
            select product, units, net_revenue_cents, cost_of_sales_cents, selling_cents, margin_cents, covered_share,
                hours, margin_per_hour_cents, (sum(margin_cents) over ())::bigint as all_left_cents
            from known
            where span = $span and (span = 'all' or month = $month)
            order by margin_cents, product
        """
        return self._frame(query, span=span, month=month)

    def events(self) -> pl.DataFrame:
        """`money.event`: a market day, the latest first."""
        return self._frame("from money.event order by on_date desc, event")

    def write_downs(self, month: date) -> pl.DataFrame:
        """`money.write_down` of a month: an unsold piece that will bring less than it cost."""
        query = "from money.write_down where month = $month order by written_down_cents desc, piece"
        return self._frame(query, month=month)

    def earlier(self, month: date) -> pl.DataFrame:
        """`money.earlier`: what was found later about closed months and counts in this one."""
        query = "from money.earlier where month = $month order by abs(cents) desc, closed_month, on_date, line"
        return self._frame(query, month=month)

    def stock_months(self) -> pl.DataFrame:
        """`money.stock_month`: the roll-forward of what is tied up, stage by stage."""
        return self._frame("from money.stock_month order by month, stage_number")

    def tied_up(self, month: date) -> dict[str, int]:
        """`money.tied_up` of a month: what is tied up at its end, in all and by what it waits for."""
        return self._frame("select * exclude (month) from money.tied_up where month = $month", month=month).row(
            0, named=True
        )

    def lost_cents(self, month: date) -> int:
        """`money.losing` of a month: what the products that were sold for less than they cost lost in all."""
        query = "select coalesce(sum(lost_cents), 0)::bigint as cents from money.losing where month = $month"
        return int(self._frame(query, month=month).item())

    def unnamed_bench_cents(self, month: date) -> int:
        """`cost.unnamed`: what a month's work at the bench cost whose hours name no piece."""
        query = "select coalesce(sum(cents), 0)::bigint as cents from cost.unnamed where month = $month"
        return int(self._frame(query, month=month).item())

    def held(self, month: date) -> pl.DataFrame:
        """`money.held` at a month's end: an unsold piece with how long it has been offered, dearest first."""
        query = """
            with listed as (select piece, max(listed) as listed from records.pieces group by piece)
            select held.*, piece.product, piece.species, piece.finish, piece.finished, listed.listed,
                asked.list_price_cents,
                -- one that was offered later did not wait yet, one made to order waits for no buyer
                case when not coalesce(history.made_to_order, false)
                        and coalesce(listed.listed, piece.finished) <= last_day(held.month) then
                    date_diff('day', coalesce(listed.listed, piece.finished), last_day(held.month))
                end as wait_days
            from money.held as held
            join cost.piece as piece on piece.piece = held.piece
            left join listed on listed.piece = held.piece
            asof left join work.list_price as asked
                on asked.piece = held.piece and asked.from_date <= last_day(held.month)
            left join price.history on history.piece = held.piece
            where held.month = $month
            order by held.cost_cents desc, held.piece
        """
        return self._frame(query, month=month)
