"""A piece's cost with the records behind every line."""

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from difflib import get_close_matches
from typing import Any

import duckdb

from pipeline.errors import UserError
from pipeline.reports.finding import rows_of
from pipeline.reports.words import amount, count, layer, place, share

# One row per line of the piece and pair of records. What goes into it is its cost; the rest is where that went, less
# what came back from there.
_MOVEMENTS = """
with moved as (
    select
        *, into_piece(from_place, to_place, layer, item, cents) as in_cents,
        case from_place when 'piece' then to_place else from_place end as other_place,
        case from_place when 'piece' then cents else -cents end as out_cents
    from cost.trace where piece = $piece and 'piece' in (from_place, to_place)
),

trace as (select * replace (coalesce(in_cents, out_cents) as cents), in_cents is not null as incoming from moved),

entry as (
    select row_id, name || '''s hourly rate' as name, from_date from settings.person_rate
    union all select row_id, 'the bills for ' || name, from_date from settings.pool
    union all select row_id, 'the machine ' || name, from_date from settings.machine
)

select
    incoming, other_place, layer, operation, on_date, item, lot,
    sum(cents)::bigint as cents, sum(quantity)::bigint as quantity, any_value(unit) as unit,
    bool_or(trace.rework) as rework, bool_or(trace.assumed) as assumed, bool_or(trace.estimated) as estimated,
    because.record, because.file, because.sheet, because.row,
    paid.record as paid_record, paid.file as paid_file, paid.sheet as paid_sheet, paid.row as paid_row,
    entry.name as paid_name, entry.from_date as paid_from
from trace
left join intake.row as because on because.row_id = trace.row_id
left join intake.row as paid on paid.row_id = trace.paid_row_id
left join entry on entry.row_id = trace.paid_row_id
group by all
order by
    incoming desc, layer, operation nulls first, on_date,
    because.file, because.sheet, because.row, paid.file, paid.sheet, paid.row, cents, item
"""


GONE = {"pool": "handed on as scrap", "period": "cost of the month", "waste": "lost"}
"""Places that a piece's cost went to, in words."""


_USUAL = """
select layer, operation, usual_told(usual_cents, usual_pieces) as usual_cents from cost.piece_line where piece = $piece
"""


@dataclass(frozen=True)
class Line:
    """A layer and operation of the cost, or a place that cost went to, with its records.

    `usual_cents` is what is usual for the piece's product; a line that such a piece usually has and this one lacks has
    no records. None where the cost went, or if nothing is usual.
    """

    layer: str
    operation: str | None
    cents: int
    usual_cents: int | None
    records: list[dict[str, Any]]


@dataclass(frozen=True)
class PieceTrace:
    """A piece with what it cost, line by line, where that went, and its bench pay if any of it is sold."""

    piece: dict[str, Any]
    pay: dict[str, Any] | None
    cost: list[Line]
    gone: list[Line]

    def as_data(self) -> dict[str, Any]:
        return self.piece | {
            "bench_pay": self.pay,
            "cost": [asdict(line) for line in self.cost],
            "gone": [asdict(line) for line in self.gone],
        }


def trace(con: duckdb.DuckDBPyConnection, tag: str) -> PieceTrace:
    """The trace of the piece with this tag. Raises `UserError` with the nearest tags if there is none."""
    tag = tag.strip().upper()
    found = rows_of(con, "from cost.piece where piece = $piece", piece=tag)
    if not found:
        raise UserError(f"There is no piece {tag}.", mend=_nearest(con, tag))
    rows = rows_of(con, _MOVEMENTS, piece=tag)
    incoming = [row for row in rows if row["incoming"]]
    outgoing = [row for row in rows if not row["incoming"]]
    pay = next(iter(rows_of(con, "from money.bench_pay where piece = $piece", piece=tag)), None)
    usual = {(row["layer"], row["operation"] or None): row["usual_cents"] for row in rows_of(con, _USUAL, piece=tag)}
    cost, gone = _lines(incoming, "layer", "operation", usual), _lines(outgoing, "other_place", "layer", {})
    return PieceTrace(found[0], pay, cost, gone)


def text(found: PieceTrace, digits: int, records: bool = False) -> Iterator[str]:
    """The trace as lines of text, one a layer and operation, with the records behind each where they are wanted.

    `digits` is the number of decimals of the shop's money.
    """
    piece = found.piece
    yield " · ".join(str(p) for p in (piece["piece"], piece["product"], piece["species"], piece["finish"]) if p)
    unsure = piece["without_cost"] or piece["without_material"]
    told = ("assumed", "estimated") if unsure else ("logged", "assumed", "estimated")
    shares = [f"{word} {share(piece[f'{word}_share'] or 0)}" for word in told]
    if piece["without_material"]:
        shares.append("nothing that it is made of is on record")
    if piece["without_cost"]:
        shares.append(f"{count(piece['without_cost'], 'thing')} in it without a cost")
    each = f", {amount(piece['unit_cents'], digits)} each of {piece['quantity']}" if piece["quantity"] > 1 else ""
    yield f"Cost {amount(piece['made_cents'], digits)}{each} ({', '.join(shares)})"
    if found.pay:
        yield _pay(found.pay, piece["quantity"], digits)
    for title, lines in (("", found.cost), ("Where it went", found.gone)):
        if lines:
            # each line with its records is a paragraph of its own; lines alone stand close
            yield from ("", title) if title else () if records else ("",)
        for line in lines:
            if records:
                yield ""
            yield _line(line, digits)
            if records:
                yield from (_record(record, digits) for record in line.records)
    if not records and found.cost:
        yield from ("", "With --all, the records behind each line.")


def _pay(pay: dict[str, Any], quantity: int, digits: int) -> str:
    """Bench pay with what it is made of."""
    an_hour = pay["bench_pay_cents"]
    said = "too few own hours to say" if an_hour is None else f"{amount(an_hour, digits)} an hour"
    brought, selling, other = (amount(pay[f"{name}_cents"], digits) for name in ("revenue", "selling", "other_cost"))
    of = f", {pay['units']} of {quantity} sold" if quantity > 1 else ""
    parts = f"{brought} brought, less {selling} selling and {other} all cost but own work"
    return f"Bench pay {said} ({parts}, over {pay['own_bench_seconds'] / 3600:.2f} own hours{of})"


def _line(line: Line, digits: int) -> str:
    said = GONE.get(line.layer, layer(line.layer))
    name = f"{said}, {layer(line.operation)}" if line.operation else said
    seconds = sum(record["quantity"] or 0 for record in line.records if record["unit"] == "s")
    hours = f"{seconds / 3600:.2f} h" if seconds else ""
    usual = "" if line.usual_cents is None else f"usual {amount(line.usual_cents, digits)}"
    again = sum(bool(record["rework"]) for record in line.records)
    behind = count(len(line.records), "record") if line.records else "no record"
    rework = f", {again} of rework" if again else ""
    return f"{name:<34}{amount(line.cents, digits):>14}{usual:>20}{hours:>10}   {behind}{rework}"


def _record(record: dict[str, Any], digits: int) -> str:
    flags = "".join(f" ({flag})" for flag in ("rework", "assumed", "estimated") if record[flag])
    where = place(record["file"], record["sheet"], record["row"]) if record["file"] else "no record"
    paid = _payer(record, where)
    rest = f" · paid by {paid}" if paid != where else ""
    what = f" {record['item']}" if record["item"] else ""
    return f"    {record['on_date']}{amount(record['cents'], digits):>12}{what}{flags}  {where}{rest}"


def _payer(record: dict[str, Any], where: str) -> str:
    """What paid for it: an entry of the settings by its name and first day, other records by where they stand."""
    if record["paid_name"]:
        return f"{record['paid_name']} in shop.toml, from {record['paid_from']}"
    return place(record["paid_file"], record["paid_sheet"], record["paid_row"]) if record["paid_file"] else where


def _lines(
    rows: list[dict[str, Any]], first: str, second: str, usual: dict[tuple[str, str | None], int | None]
) -> list[Line]:
    grouped: dict[tuple[str, str | None], list[dict[str, Any]]] = {key: [] for key, cents in usual.items() if cents}
    for row in rows:
        grouped.setdefault((row[first], row[second]), []).append(row)
    lines = [Line(*key, sum(row["cents"] for row in group), usual.get(key), group) for key, group in grouped.items()]
    return sorted(lines, key=lambda line: (-line.cents, -(line.usual_cents or 0), line.layer, line.operation or ""))


def _nearest(con: duckdb.DuckDBPyConnection, tag: str) -> str:
    known = [row["piece"] for row in rows_of(con, "select piece from cost.piece order by piece")]
    near = get_close_matches(tag, known, n=3, cutoff=0.5)
    return f"Nearest tags: {', '.join(near)}." if near else f"There are {len(known)} pieces; none has a tag like it."
