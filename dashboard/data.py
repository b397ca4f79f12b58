"""The only reader of the published database: read-only, one connection a file, one method a published table.

Every figure is worked out before publishing. What stands here selects rows, joins them to where they come from, and
adds up nothing but counts of rows over files.
"""

import os
import re
import threading
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

import duckdb
import polars as pl

SHOP_VARIABLE = "KERFLEDGER_SHOP"
"""The environment variable that names the shop folder."""

SHOWN = 200
"""Rows of a trace that a page shows at most, dearest first."""

_PROVENANCE = """
    because.record, because.file, because.sheet, because.row,
    paid.record as paid_record, paid.file as paid_file, paid.sheet as paid_sheet, paid.row as paid_row
"""


class NothingPublishedError(Exception):
    """The shop has no published database that can be opened."""


class OutdatedError(Exception):
    """The published database lacks a table that a page reads: an older version of the tool made it."""


@dataclass(frozen=True)
class Edition:
    """One published file. `stamp` tells it from another of the same name, made after the folder was emptied."""

    number: int
    path: Path
    stamp: tuple[int, int]

    @property
    def refreshed(self) -> datetime:
        return datetime.fromtimestamp(self.stamp[0] / 1e9)


class Book:
    """One published database. Frames are kept, so that a page that runs again reads nothing again."""

    def __init__(self, edition: Edition) -> None:
        self.edition = edition
        self._con = duckdb.connect(str(edition.path), read_only=True)
        self._kept: dict[tuple[str, str], pl.DataFrame] = {}

    def close(self) -> None:
        self._con.close()

    def _frame(self, query: str, **values: Any) -> pl.DataFrame:
        key = (query, repr(values))
        if key not in self._kept:
            try:
                # a cursor of its own: two browsers read at the same time
                with self._con.cursor() as cursor:
                    self._kept[key] = cursor.sql(query, params=values or None).pl()
            except duckdb.CatalogException as error:
                raise OutdatedError(str(error)) from error
        return self._kept[key]

    # settings, intake, checks

    def shop(self) -> dict[str, Any]:
        """`settings.shop`: the shop and its rules."""
        return self._frame("from settings.shop").row(0, named=True)

    def files(self) -> pl.DataFrame:
        """`intake.file`: a table of a file with what became of its rows."""
        return self._frame("from intake.file order by file, sheet")

    def rows_by_fate(self) -> dict[str, int]:
        """`intake.file` over all files: how many there are, and what became of their rows."""
        query = """
            select count(distinct file) as files, sum(rows)::bigint as rows, sum(loaded)::bigint as loaded,
                sum(duplicate)::bigint as duplicate, sum(set_aside)::bigint as set_aside,
                sum(ignored)::bigint as ignored
            from intake.file
        """
        return {name: value or 0 for name, value in self._frame(query).row(0, named=True).items()}

    def set_aside(self) -> pl.DataFrame:
        """`intake.rejected`: a row set aside, with the reason and what would mend it."""
        return self._frame("from intake.rejected order by file, sheet, row, field")

    def unknown_words(self) -> pl.DataFrame:
        """`intake.unknown_word`: a word that no vocabulary knows."""
        return self._frame("from intake.unknown_word order by nearest is null, rows desc, word")

    def unlinked(self) -> pl.DataFrame:
        """`intake.unlinked`: a tag that leads nowhere, with where it stands."""
        query = """
            select tags.record, tags.field, tags.tag, rows.file, rows.sheet, rows.row
            from intake.unlinked as tags left join intake.row as rows on rows.row_id = tags.row_id
            order by all
        """
        return self._frame(query)

    def findings(self) -> pl.DataFrame:
        """`checks.result`: a check that found something, errors first."""
        return self._frame("from checks.result where rows > 0 order by severity, rows desc, name")

    def dictionary(self) -> pl.DataFrame:
        """The columns of the published tables with their meaning, in the database's own words."""
        query = """
            select columns.schema_name || '.' || columns.table_name as "table", tables.comment as table_meaning,
                columns.column_name as "column", columns.data_type as type, columns.comment as meaning
            from duckdb_columns() as columns
            join duckdb_tables() as tables on tables.table_oid = columns.table_oid
            where not columns.internal and columns.table_name not like '\\_%' escape '\\'
            order by "table", columns.column_index
        """
        return self._frame(query)

    def meaning(self, column: str) -> str | None:
        """What a column means: its name has one meaning everywhere."""
        found = self.dictionary().filter(pl.col("column") == column, pl.col("meaning").is_not_null())
        return found["meaning"][0] if found.height else None

    # cost

    def pieces(self) -> pl.DataFrame:
        """`cost.piece`: a piece or run with what went into it, the latest first."""
        return self._frame("from cost.piece order by finished desc nulls last, started desc, piece")

    def products(self) -> pl.DataFrame:
        """`cost.product`: what one of a product usually costs."""
        return self._frame("from cost.product order by product")

    def piece_lines(self, piece: str) -> pl.DataFrame:
        """`cost.piece_line`: a piece's cost by layer and operation, beside what is usual for its product."""
        return self._frame(
            "from cost.piece_line where piece = $piece order by cents desc, usual_cents desc, layer, operation",
            piece=piece,
        )

    def piece_layers(self, piece: str) -> pl.DataFrame:
        """`cost.piece_layer`: a piece's cost by layer, beside what is usual for its product."""
        query = "from cost.piece_layer where piece = $piece order by cents desc, usual_cents desc, layer"
        return self._frame(query, piece=piece)

    def piece_trace(self, piece: str, layer: str) -> pl.DataFrame:
        """`cost.trace`: what entered a piece in one layer, with the records behind it."""
        query = f"""
            select trace.*, {_PROVENANCE}
            from cost.trace as trace
            left join intake.row as because on because.row_id = trace.row_id
            left join intake.row as paid on paid.row_id = trace.paid_row_id
            where piece = $piece and layer = $layer and 'piece' in (to_place, from_place)
                and from_place not in ('sold', 'waste', 'period', 'own use')
                and to_place not in ('sold', 'waste', 'period', 'own use')
            order by trace.on_date, trace.row_id, cents desc, trace.row_id, paid_row_id
            limit {SHOWN}
        """
        return self._frame(query, piece=piece, layer=layer)

    def piece_left(self, piece: str) -> pl.DataFrame:
        """`records.sales` and `records.inspections` of a piece with where they stand: how it left, what was found."""
        query = """
            select 'sold' as what, on_date, channel as detail, price_cents, rows.file, rows.sheet, rows.row
            from records.sales left join intake.row as rows on rows.row_id = sales.row_id where piece = $piece
            union all
            select 'inspected', on_date, concat_ws(': ', defect, action), null, rows.file, rows.sheet, rows.row
            from records.inspections left join intake.row as rows on rows.row_id = inspections.row_id
            where piece = $piece
            order by all
        """
        return self._frame(query, piece=piece)

    def month_lines(self, month: date, line: str, layers: Iterable[str]) -> pl.DataFrame:
        """`money.line`: what makes a line of a month's result, with the records behind it, dearest first."""
        query = f"""
            select lines.*, {_PROVENANCE}
            from money.line as lines
            left join intake.row as because on because.row_id = lines.row_id
            left join intake.row as paid on paid.row_id = lines.paid_row_id
            where month = $month and line = $line and (len($layers) = 0 or list_contains($layers, layer))
            order by abs(cents) desc, lines.row_id, lines.paid_row_id, lines.piece, lines.layer, lines.operation
            limit {SHOWN}
        """
        return self._frame(query, month=month, line=line, layers=list(layers))

    def record_trace(self, row_id: int) -> pl.DataFrame:
        """`cost.trace`: what one record moved, with the records that paid for it."""
        query = f"""
            select trace.*, {_PROVENANCE}
            from cost.trace as trace
            left join intake.row as because on because.row_id = trace.row_id
            left join intake.row as paid on paid.row_id = trace.paid_row_id
            where trace.row_id = $row_id
            order by on_date, cents desc, trace.row_id, paid_row_id
            limit {SHOWN}
        """
        return self._frame(query, row_id=row_id)

    def lots(self) -> pl.DataFrame:
        """`cost.lot`: a purchase line as a lot."""
        return self._frame("from cost.lot order by bought_on desc, lot_id")

    # material, quality, money

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

    def months(self) -> pl.DataFrame:
        """`money.month`: a month's result, in order."""
        return self._frame("from money.month order by month")

    def bridge(self, month: date, against: str) -> pl.DataFrame:
        """`money.bridge`: why a month differs from another, part by part."""
        query = "from money.bridge where month = $month and against = $against order by part_number"
        return self._frame(query, month=month, against=against)

    def bridge_sentence(self, month: date, against: str) -> str | None:
        """`money.bridge_sentence`: the same in a sentence; nothing where there is no month to compare with."""
        query = "select sentence from money.bridge_sentence where month = $month and against = $against"
        found = self._frame(query, month=month, against=against)
        return found["sentence"][0] if found.height else None

    def cash_way(self, month: date) -> pl.DataFrame:
        """`money.cash_month`: from the books result to the change of cash, line by line."""
        return self._frame("from money.cash_month where month = $month order by line_number", month=month)

    def margins(self, month: date) -> pl.DataFrame:
        """`money.margin` of a month: what each product, species, finish, channel, order and event left."""
        query = (
            "from money.margin where span = 'month' and month = $month order by factor, contribution_cents desc, level"
        )
        return self._frame(query, month=month)

    def records(self, row_ids: Iterable[int]) -> dict[int, dict[str, Any]]:
        """The records and settings with these row ids, field by field; those of no file are left out."""
        wanted = sorted(set(row_ids))
        where = self._frame("select row_id, record from intake.row where list_contains($ids, row_id)", ids=wanted)
        found: dict[int, dict[str, Any]] = {}
        for (record,), part in where.group_by("record"):
            table = str(record) if "." in str(record) else f"records.{record}"
            ids = sorted(part["row_id"].to_list())
            frame = self._frame(f"from {table} where list_contains($ids, row_id)", ids=ids)
            found |= {row["row_id"]: row for row in frame.iter_rows(named=True)}
        return found


_OPEN: dict[Path, Book] = {}
_LOCK = threading.Lock()


def shop_folder() -> Path:
    """The shop folder that the server was started for."""
    return Path(os.environ.get(SHOP_VARIABLE, "."))


def editions(folder: Path) -> list[Edition]:
    """The published files of a shop, the newest first."""
    found = []
    for path in (folder / "database").glob("shop-*.duckdb"):
        match = re.fullmatch(r"shop-(\d{6,})\.duckdb", path.name)
        try:
            stat = path.stat()
        except OSError:
            continue  # swept since it was listed
        if match:
            found.append(Edition(int(match[1]), path, (stat.st_mtime_ns, stat.st_ino)))
    return sorted(found, key=lambda edition: edition.number, reverse=True)


def newest(folder: Path) -> Edition | None:
    """The newest published file, without opening it."""
    return next(iter(editions(folder)), None)


def open_book(folder: Path) -> Book:
    """The newest database that opens. Raises `NothingPublishedError` if there is none."""
    for _ in range(2):  # the one listed may have been swept meanwhile: list again
        for edition in editions(folder):
            try:
                return _book(edition)
            except (duckdb.Error, OSError):
                continue
    raise NothingPublishedError(str(folder))


def _book(edition: Edition) -> Book:
    with _LOCK:
        known = _OPEN.get(edition.path)
        if known and known.edition == edition:
            return known
        if known:
            # within one process DuckDB hands back the old file while a connection to its path is open
            _OPEN.pop(edition.path).close()
        book = Book(edition)
        # a browser that still shows an older file goes on with it until its next run
        for old in sorted(_OPEN, key=lambda path: _OPEN[path].edition.number)[:-2]:
            _OPEN.pop(old).close()
        _OPEN[edition.path] = book
        return book
