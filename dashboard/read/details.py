"""The records behind a figure, a mark or a row of a table: one method a kind of figure, each with its papers."""

from collections.abc import Sequence
from datetime import date
from typing import Any

import polars as pl

from dashboard.read.tables import INTO_PIECES, PROVENANCE, SHOWN, Tables

UNITED = "all resins"

_NO_CENTS = "null::bigint as paid_row_id, null::bigint as cents"

# where the steps of the way of a resin stand in the trace; pours and lots have queries of their own
_RESIN_MOVES = {
    "all": "true",
    "bought": "(from_place = 'receipt' or to_place = 'receipt')",
    "missing": "from_place = 'imputed' and not counted",
    "found": "from_place = 'imputed' and counted",
    "good": "from_place = 'stock' and layer <> 'resin waste' and poured",
    "other": "from_place = 'stock' and to_place <> 'receipt' and not poured and not counted",
    "shortage": "from_place = 'stock' and to_place <> 'receipt' and counted",
}
_POUR_FATES = {
    "cup": "left_in_cup_g", "trimmed": "trimmed_g", "spilled": "spilled_g", "pour_unexplained": "unexplained_g"
}  # fmt: skip

# the kinds of payments behind a line from the result to the change of cash; the moves in the trace behind the others,
# and which of them leave more cash than the result says (all, where none are named)
_CASH_KINDS = {
    "suppliers": ("supplier",), "bills": ("overhead", "postage"), "wages": ("pay",),
    "customers": ("sales", "balance", "payout", "refund"), "deposits": ("deposit", "balance"),
    "vouchers": ("voucher sold", "voucher used"), "tax": ("tax", "claim"), "owner": ("drawing", "capital"),
    "loan": ("loan",),
}  # fmt: skip
_CASH_PLACES = {
    "depreciation": "from_place = 'asset'", "equipment bought": "to_place = 'asset'",
    "materials": "'stock' in (from_place, to_place)", "pieces": "'piece' in (from_place, to_place)",
    "pools": "'pool' in (from_place, to_place)", "own use": "'own use' in (from_place, to_place)",
    "no receipt": "'imputed' in (from_place, to_place)",
    "there at the start": "from_place = 'setting' and (to_place in ('stock', 'piece') or "
    "to_place = 'asset' and on_date <= (select start from settings.shop))",
}  # fmt: skip
_CASH_GAINS = {
    "materials": "from_place = 'stock'", "pieces": "from_place = 'piece'", "pools": "from_place = 'pool'",
    "own use": "from_place = 'own use'", "no receipt": "from_place = 'imputed'", "equipment bought": "false",
}  # fmt: skip

_CASH_RESULT = {"books result": (), "closed months": (), "write-downs": ("write-downs",)}
"""The lines that are of the result itself: which of its lines they are, none for all."""

# the groups that an address may name, each as the query says it
_SOLD_BY = {
    "product": "coalesce(piece.product, sales.product, 'not stated')",
    "species": "coalesce(piece.species, 'not stated')",
    "finish": "coalesce(piece.finish, 'not stated')",
    "channel": "coalesce(sales.channel, 'not stated')",
    "order": "coalesce(sales.order_no, piece.order_no)",
    "event": "sales.event",
}
_WOOD_BY = {
    "species": "coalesce(species, 'not known')",
    "supplier": "coalesce(supplier, 'not known')",
    "form": "coalesce(form, 'not known')",
    "size": "coalesce(purchase_size, 'not known')",
    "all": "'all wood'",
}
_PREDICTED = {
    "product": "coalesce(product, '') = $level",
    "size": "large and $level = 'largest third'",
    "all": "$level = ''",
}

# which records hold a word of a vocabulary
_WORDS = {
    "species": (("pieces", "species"), ("purchases", "species"), ("counts", "species")),
    "finish": (("pieces", "finish"),), "operation": (("hours", "operation"),), "defect": (("inspections", "defect"),),
    "product": (("pieces", "product"), ("sales", "product")), "channel": (("sales", "channel"), ("orders", "channel")),
    "item": (("purchases", "item"), ("usage", "item"), ("pours", "resin")), "person": (("hours", "person"),),
    "machine": (("hours", "machine"),), "event": (("sales", "event"), ("hours", "event")),
}  # fmt: skip


class Behind(Tables):
    """What a click opens: rows with `row_id` and where each record stands, or pieces."""

    def _placed(self, found: str, **values: Any) -> pl.DataFrame:
        """The rows that a query finds (with row_id, paid_row_id, cents, on_date), each with where it stands."""
        query = f"""
            with found as ({found})
            select found.*, {PROVENANCE}
            from found
            left join intake.row as because on because.row_id = found.row_id
            left join intake.row as paid on paid.row_id = found.paid_row_id
            order by abs(cents) desc nulls last, on_date desc, file, sheet, row, found.row_id,
                found.paid_row_id
            limit {SHOWN}
        """
        return self._frame(query, **values)

    def record(self, *row_ids: int) -> pl.DataFrame:
        """`intake.row`: records with what they moved in the books, or alone if they moved nothing."""
        ids = list(row_ids)
        moved = self._placed("select * from cost.trace where list_contains($ids, row_id)", ids=ids)
        if moved.height:
            return moved
        return self._placed(f"select unnest($ids) as row_id, null::date as on_date, {_NO_CENTS}", ids=ids)

    def lot_records(self, lot_id: int) -> pl.DataFrame:
        """`cost.trace`: how a lot came in and everything that was taken from it."""
        found = "select * from cost.trace where row_id = $lot_id or paid_row_id = $lot_id"
        return self._placed(found, lot_id=lot_id)

    def flow_records(self, flow: str) -> pl.DataFrame:
        """`cost.movement`: what came in and went out of the lots of one item, or of one species of wood.

        A finding names the item, of wood too; its lots take turns under the name of the species.
        """
        found = """
            select * from cost.movement
            where paid_row_id in (select lot_id from work.lot where $flow in (flow, item))
                and 'stock' in (from_place, to_place)
        """
        return self._placed(found, flow=flow)

    def resin_records(self, item: str, step: str, first: date, last: date) -> pl.DataFrame:
        """What stands behind a step of a resin's way between two days."""
        values = {"item": item, "first": first, "last": last}
        resin = f"$item in ('{UNITED}', item)"
        if step in ("opening", "on_hand"):
            day = "first" if step == "opening" else "last"
            sign = "<" if step == "opening" else "<="
            del values["last" if step == "opening" else "first"]
            found = f"""
                select paid_row_id as row_id, null::bigint as paid_row_id, any_value(item) as item,
                    any_value(lot) as lot, min(on_date) as on_date,
                    sum(case when to_place = 'stock' then cents else -cents end)::bigint as cents
                from cost.movement
                where {resin} and item in (select item from material.resin_balance) and on_date {sign} ${day}
                    and 'stock' in (from_place, to_place)
                group by paid_row_id having sum(case when to_place = 'stock' then cents else -cents end) <> 0
            """
            return self._placed(found, **values)
        if step in _POUR_FATES:
            found = f"""
                select row_id, null::bigint as paid_row_id, on_date, 'pour ' || pour as operation, resin as item,
                    waste_cents as cents, printf('%.0f g', {_POUR_FATES[step]}) as lot
                from material.pour
                where $item in ('{UNITED}', resin) and on_date between $first and $last and {_POUR_FATES[step]} > 0
            """
            return self._placed(found, **values)
        found = f"""
            select trace.* exclude (counted, poured)
            from (
                select trace.*, row_id in (select row_id from records.counts) as counted,
                    row_id in (select row_id from records.pours) as poured
                from cost.movement as trace
            ) as trace
            where {resin} and item in (select item from material.resin_balance) and on_date between $first and $last
                and 'stock' in (from_place, to_place) and {_RESIN_MOVES[step]}
        """
        return self._placed(found, **values)

    def pour_records(self, resin: str, purpose: str, size: str) -> pl.DataFrame:
        """`material.pour_need`: pours of a resin, purpose and size (`all` = any), most mixed for nothing first."""
        found = """
            select row_id, null::bigint as paid_row_id, on_date, 'pour ' || pour as operation, resin as item,
                concat_ws(' ', 'for', purpose, product) as lot, over_cents as cents
            from material.pour_need
            where $resin in ('all', resin) and $purpose in ('all', purpose) and $size in ('all', need_size)
        """
        return self._placed(found, resin=resin, purpose=purpose, size=size)

    def wood_records(self, factor: str, level: str) -> pl.DataFrame:
        """`material.wood_yield`: the lots of a group from which something was cut, each the line that bought it."""
        found = f"""
            select lot_id as row_id, null::bigint as paid_row_id, bought_on as on_date, species as operation, lot,
                printf('%.0f %% became finished work', 100 * yield_share) as item, landed_cents as cents
            from material.wood_yield where {_WOOD_BY[factor]} = $level and pieces > 0
        """
        return self._placed(found, level=level)

    def event_records(self, event: str) -> pl.DataFrame:
        """All records that name a market day."""
        found = f"""
            select row_id, on_date, case when quantity < 0 then 'came back' else 'sold' end as operation, piece,
                null::bigint as paid_row_id, coalesce(taken.cents, 0) as cents
            from records.sales
            left join (
                select row_id, sum(cents)::bigint as cents from money.line where line in ('revenue', 'refunds')
                group by row_id
            ) as taken using (row_id)
            where event = $event
            union all
            select row_id, on_date, 'bought', item, null, amount_cents from records.purchases where event = $event
            union all
            select row_id, on_date, operation, null, {_NO_CENTS} from records.hours where event = $event
            union all
            select row_id, on_date, 'paid', kind, null, amount_cents from records.payments where event = $event
            union all
            select row_id, on_date, 'taken along', null, {_NO_CENTS} from records.moves
            where upper(replace(place, ' ', '')) = $event
        """
        return self._placed(found, event=event)

    def month_records(self, month: date, other: date, lines: Sequence[str], layers: Sequence[str]) -> pl.DataFrame:
        """`money.line` of two months (or one, named twice): lines (none = all) and layers (none = all)."""
        found = """
            select * from money.line
            where month in ($month, $other) and (len($lines) = 0 or list_contains($lines, line))
                and (len($layers) = 0 or list_contains($layers, layer))
        """
        return self._placed(found, month=month, other=other, lines=list(lines), layers=list(layers))

    def cash_records(self, month: date, line: str) -> pl.DataFrame:
        """What stands behind a line on the way from the books result to the change of cash."""
        if line in _CASH_PLACES:
            # own labour is no matter of cash; what leaves a place did not take cash now
            found = f"""
                select * replace (case when {_CASH_GAINS.get(line, "true")} then cents else -cents end as cents)
                from cost.trace
                where date_trunc('month', on_date) = $month and origin <> 'own labour' and ({_CASH_PLACES[line]})
            """
            return self._placed(found, month=month)
        if line in _CASH_RESULT:
            return self.month_records(month, month, _CASH_RESULT[line], [])
        if line == "cash" or line in _CASH_KINDS:
            found = """
                select row_id, null::bigint as paid_row_id, on_date, kind as operation, cents, assumed from money.cash
                where month = $month and (len($kinds) = 0 or list_contains($kinds, kind))
            """
            return self._placed(found, month=month, kinds=list(_CASH_KINDS.get(line, ())))
        raise KeyError(line)

    def sold_records(self, factor: str, level: str, first: date, last: date) -> pl.DataFrame:
        """`records.sales` of a product, species, finish, channel, order or event between two days, and what each
        brought: a sale of several pieces stands with each of them, and with what of it no piece is known for."""
        found = f"""
            with whole as (
                select sales.row_id, coalesce(sum(line.cents), 0) as cents from records.sales
                left join money.line on line.row_id = sales.row_id and line.line in ('revenue', 'refunds')
                group by sales.row_id
            ),
            known as (select row_id, sum(revenue_cents) as cents from money.sold group by row_id),
            parts as (
                select row_id, piece, revenue_cents as cents from money.sold
                union all
                select whole.row_id, null, whole.cents - coalesce(known.cents, 0) from whole
                left join known on known.row_id = whole.row_id
                where known.row_id is null or whole.cents <> known.cents
            )
            select parts.row_id, null::bigint as paid_row_id, sales.on_date, sales.channel as operation, parts.piece,
                parts.cents::bigint as cents
            from parts
            join records.sales on sales.row_id = parts.row_id
            left join cost.piece as piece on piece.piece = parts.piece
            where {_SOLD_BY[factor]} = $level and sales.on_date between $first and $last
        """
        return self._placed(found, level=level, first=first, last=last)

    def found_records(self, defect: str, found_at: str, cause: str) -> pl.DataFrame:
        """`quality.found`: the inspections behind a defect, where it was found and its cause."""
        found = """
            select row_id, null::bigint as paid_row_id, on_date, concat_ws(': ', defect, action) as operation, piece,
                cents
            from quality.found
            where defect = $defect and coalesce(found_at, 'not said') = $found_at
                and coalesce(cause_said, 'not said') = $cause
        """
        return self._placed(found, defect=defect, found_at=found_at, cause=cause)

    def hours_records(self, day: date) -> pl.DataFrame:
        """`records.hours` of a day."""
        found = f"""
            select row_id, on_date, concat_ws(', ', operation, person) as operation, {_NO_CENTS}
            from records.hours where on_date = $day
        """
        return self._placed(found, day=day)

    def unplaced_hours(self, operation: str) -> pl.DataFrame:
        """`records.hours` of an operation that name no piece."""
        found = f"""
            select row_id, on_date, concat_ws(', ', operation, person) as operation, {_NO_CENTS}
            from records.hours where operation = $operation and len(coalesce(pieces, [])) = 0
        """
        return self._placed(found, operation=operation)

    def file_records(self, file: str, sheet: str) -> pl.DataFrame:
        """`intake.row`: the records of a table of a file, those at its end first."""
        query = f"""
            select row_id, null::bigint as paid_row_id, null::date as on_date, null::bigint as cents, record,
                case state when 'loaded' then '' else state end as operation, file, sheet, row
            from intake.row where file = $file and sheet = $sheet order by row desc limit {SHOWN}
        """
        return self._frame(query, file=file, sheet=sheet)

    def word_records(self, vocabulary: str, word: str) -> pl.DataFrame:
        """The records in which a word stands."""
        each = " union all ".join(
            f"select row_id, '{record}, {column}' as operation from records.{record} where {column} = $word"
            for record, column in _WORDS[vocabulary]
        )
        return self._placed(f"select *, null::date as on_date, {_NO_CENTS} from ({each})", word=word)

    def tag_records(self, record: str, field: str, tag: str) -> pl.DataFrame:
        """`intake.unlinked`: the records in which a tag leads nowhere."""
        query = f"""
            select row_id, record || ', ' || field as operation, null::date as on_date, {_NO_CENTS}
            from intake.unlinked where record = $record and field = $field and tag = $tag
        """
        return self._placed(query, record=record, field=field, tag=tag)

    def made_records(self, product: str, part: str) -> pl.DataFrame:
        """`cost.moved`: what went into the pieces of a product, as labour, machine, overhead, material or rework."""
        wanted = {
            "all": "true",
            "rework": "rework",
            "material": "layer not in ('labour', 'machine', 'overhead', 'spoilage') and not rework",
        }.get(part, "(layer = $part or operation = $part) and not rework")
        values = {"product": product} | ({"part": part} if "$part" in wanted else {})
        found = f"""
            select * from {INTO_PIECES}
            where piece in (select piece from cost.piece where product = $product) and {wanted}
        """
        return self._placed(found, **values)

    def shelf_records(self, last: date) -> pl.DataFrame:
        """`cost.movement`: the lots that lay on the shelf at the end of a day, dearest first."""
        found = """
            select paid_row_id as row_id, null::bigint as paid_row_id, any_value(item) as item, any_value(lot) as lot,
                min(on_date) as on_date, sum(case when to_place = 'stock' then cents else -cents end)::bigint as cents
            from cost.movement where on_date <= $last and 'stock' in (from_place, to_place)
            group by paid_row_id having sum(case when to_place = 'stock' then cents else -cents end) <> 0
        """
        return self._placed(found, last=last)

    def waited(self, product: str, days: int) -> pl.DataFrame:
        """`price.history`: the pieces of a product that were sold so many days after they were listed."""
        query = """
            select distinct piece, product, species, finish, channel, price_cents, listed, sold from price.history
            where product = $product and not made_to_order
                and greatest(date_diff('day', coalesce(listed, finished), sold), 0) = $days
            order by all
        """
        return self._frame(query, product=product, days=days)

    def predicted(self, factor: str, level: str) -> pl.DataFrame:
        """`price.predicted`: sold pieces beside what was predicted of them, furthest off first."""
        query = f"""
            select piece, product, finished, sold, unit_cost_cents, predicted_10_cents, predicted_50_cents,
                predicted_90_cents
            from price.predicted where {_PREDICTED[factor]}
            order by abs(unit_cost_cents - predicted_50_cents) desc, piece
        """
        return self._frame(query, level=level)

    def judged_between(self, first: date, last: date) -> pl.DataFrame:
        """`quality.piece`: the pieces judged in the months between two days, those that came back first."""
        query = """
            select judged.*, piece.product, piece.species, piece.finish
            from quality.piece as judged join cost.piece as piece on piece.piece = judged.piece
            where factor = 'shop' and judged.month between $first and $last
            order by judged.rework_cents + judged.scrap_cents desc, judged.reworked desc, judged.piece
        """
        return self._frame(query, first=first, last=last)

    def aside(self, file: str, sheet: str, row: int, occurrence: int) -> pl.DataFrame:
        """`intake.rejected`: what is wrong with one row of a file."""
        query = """
            from intake.rejected where file = $file and sheet = $sheet and row = $row and occurrence = $occurrence
            order by field
        """
        return self._frame(query, file=file, sheet=sheet, row=row, occurrence=occurrence)
