"""Write the story down as the pile of files that a maker really has: many hands, many habits, some mistakes."""

import csv
import json
import random
from collections import Counter
from collections.abc import Callable, Iterable
from datetime import date, datetime
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any

import xlsxwriter

from pipeline.records import RECORDS
from sample_data import workshop as w
from sample_data.bench import Row, Story
from sample_data.papers import PAPERS, Paper
from sample_data.shelf import Lot

Written = dict[tuple[str, str], dict[str, Any]]
"""By file and sheet: record, rows (all that are records), twins, superseded, broken by code, titles, footers."""

_NO_LOT, _NO_BLANK, _NO_SIZE = 0.06, 0.04, 0.012


def write(rng: random.Random, story: Story, lots: list[Lot], folder: Path) -> Written:
    """Write `inbox/` and `mappings/`; gives back what went into each file, for the truth."""
    rows = {
        "purchases": story.purchases,
        "pieces": [_in_book(rng, piece) for piece in story.pieces],
        "hours": [_in_notebook(row) for row in story.hours if not row["_lost"]],
        "pours": story.pours,
        "usage": list(_usage(story)),
        "inspections": [row for row in story.inspections if rng.random() > 0.03 or row["action"] != "accept"],
        "orders": story.orders,
        "payments": story.payments,
        "moves": story.moves,
        "counts": sorted(story.counts, key=lambda row: row["date"]),
        "sales": sorted((_on_slip(row) for row in story.sales), key=lambda row: (row["date"], row["note"])),
    }
    for name in ("hours", "pours", "inspections", "payments", "moves", "orders"):
        rows[name] = sorted(rows[name], key=lambda row: row["date"])
    written: Written = {}
    books: dict[str, list[tuple[Paper, list[list[Any]]]]] = {}
    for paper in PAPERS:
        cells, facts = _fill(rng, paper, rows[paper.record])
        written[paper.path, paper.sheet] = facts
        if paper.sheet:
            books.setdefault(paper.path, []).append((paper, cells))
        else:
            _write_text(folder / "inbox" / paper.path, paper, cells)
    for path, sheets in books.items():
        _write_book(folder / "inbox" / path, sheets)
        written[path, "Read me"] = {
            "record": "",
            "rows": 0,
            "twins": 0,
            "superseded": 0,
            "broken": {},
            "titles": len(_README),
            "footers": 0,
        }
    _write_mappings(folder / "mappings")
    return written


def _in_book(rng: random.Random, piece: Row) -> Row:
    """The piece as the workshop book has it: now and then without its lot, its blank or its size."""
    row = dict(piece)
    gaps = (rng.random() < _NO_LOT, rng.random() < _NO_BLANK, rng.random() < _NO_SIZE)
    if gaps[0]:
        row.pop("lot", None)
    if gaps[1] or gaps[2]:
        for name in ("blank_length", "blank_width", "blank_thickness"):
            row.pop(name)
    if gaps[2]:
        for name in ("length", "width", "thickness", "diameter"):
            row.pop(name, None)
    piece["_book"] = not any(gaps)
    return row


def _in_notebook(row: Row) -> Row:
    return row if row["_named"] else row | {"pieces": []}


def _on_slip(row: Row) -> Row:
    slip = row | {"note": row["_ref"] + (" came back" if row["quantity"] < 0 else "")}
    if row["channel"] == "market":
        slip["price"] = row["price"] + abs(row["sales_tax"] // row["quantity"])
    if not row["_tagged"]:
        slip["piece"] = None
    return slip


def _usage(story: Story) -> Iterable[Row]:
    """What was written down as taken; a table from two slabs names both; some resin that its pour already took."""
    rows = []
    for use in story.uses:
        if use.logged:
            base = w.ITEMS[use.item].base
            unit = {"mg": "g", "ul": "ml", "each": "each"}[base]
            rows.append(
                {"date": use.day, "item": use.item, "quantity": (use.quantity // 1000, unit), "pieces": [use.piece]}
            )
    for piece in story.pieces:
        if len(piece["_lots"]) > 1:
            for lot, volume in piece["_lots"]:
                row = {
                    "date": piece["started"],
                    "item": f"{piece['species']} slab",
                    "quantity": (f"{volume / 1e6:.6f}", "dm3"),
                    "lot": lot,
                }
                rows.append(row | {"pieces": [piece["piece"]]})
    whole = [row for row in story.pours if row["_mixed_mg"]]
    for row in whole[:: max(1, len(whole) // 3)][:3]:
        twin = {
            "date": row["date"],
            "item": row["resin"],
            "quantity": (row["_mixed_mg"] // 1000, "g"),
            "pieces": [row["piece"]],
        }
        rows.append(twin | {"note": "see pour log", "_twin": True})
    return sorted(rows, key=lambda row: row["date"])


def _fill(rng: random.Random, paper: Paper, rows: list[Row]) -> tuple[list[list[Any]], dict[str, Any]]:
    """The cells of one file, records only, and the facts of it."""
    mine = [row for row in rows if paper.takes(row)]
    facts: dict[str, Any] = {"record": paper.record, "twins": sum("_twin" in row for row in mine), "superseded": 0}
    if paper.path == "receipts/receipts-2025.csv":
        old = [
            row
            for row in rows
            if row["date"] < paper.first.toordinal() and row["supplier"] == "Gritworks" and "_alone" not in row
        ]
        mine += _twice(mine, old)
    if paper.path == "receipts/purchases-2026.csv":
        mine += _twice(mine, [row for row in mine if row["supplier"] == "Harrow Hardware"][:40])
    facts["twins"] += sum("_again" in row for row in mine)
    if paper.path == "sales/online-2025-rest.csv":
        facts["twins"] += sum(row["date"] <= date(2025, 6, 30).toordinal() for row in mine)
    if paper.path == "sales/online-2026-a.csv":
        mine = [row | {"price": row["price"] + 500} if number % 17 == 3 else row for number, row in enumerate(mine)]
        facts["superseded"] = len(mine)
    formatters = _formatters(rng, paper)
    cells = [_cells(row, formatters, number) for number, row in enumerate(mine)]
    broken: Counter[str] = Counter()
    if mine:
        place = list(paper.columns)
        plain = next((row for row in mine if _plain(paper, row)), mine[0])
        for number, (changed, code) in enumerate(paper.broken):
            bad = _cells(_bare(plain), formatters, number)
            for name, text in changed.items():
                bad[place.index(name)] = text
            cells.insert(len(cells) * (number + 1) // (len(paper.broken) + 1), bad)
            broken[code] += 1
    facts |= {
        "rows": len(cells),
        "broken": dict(broken),
        "titles": len(paper.titles),
        "footers": int(bool(paper.total and mine)),
    }
    if paper.total and mine:
        cells.append(_footer(paper, mine, formatters))
    return cells, facts


def _twice(mine: list[Row], candidates: list[Row]) -> list[Row]:
    """The lines of the last receipt among the candidates, entered a second time."""
    if not candidates:
        return []
    tag = candidates[-1]["receipt"]
    return [row | {"_again": True} for row in candidates if row["receipt"] == tag]


def _plain(paper: Paper, row: Row) -> bool:
    """Whether a copy of the row, spoilt in one cell, would be wrong for that reason only."""
    if paper.record == "purchases":
        return row["category"] == "abrasive"
    return not row.get("machine") and "ended" not in row and row.get("quantity", 1) != 0


def _bare(row: Row) -> Row:
    """A copy that belongs to no receipt, pour or order, so that spoiling it touches nothing else."""
    return {
        k: v
        for k, v in row.items()
        if k not in ("receipt", "tax", "freight", "discount", "total", "order_no", "event", "lot")
    }


def _footer(paper: Paper, mine: list[Row], formatters: list[tuple[str, "Format"]]) -> list[str]:
    total = sum(row.get(paper.total) or 0 for row in mine)
    texts = [form({name: total}, 0) if name == paper.total else "" for name, form in formatters]
    return ["Total", *texts[1:]]


Format = Callable[[Row, int], Any]


def _cells(row: Row, formatters: list[tuple[str, Format]], number: int) -> list[Any]:
    return [form(row, number) for _, form in formatters]


def _formatters(rng: random.Random, paper: Paper) -> list[tuple[str, Format]]:
    fields = {f.name: f for f in RECORDS[paper.record]}
    return [
        (name, _format(rng, paper, name, fields[name].kind if name in fields else "text")) for name in paper.columns
    ]


def _format(rng: random.Random, paper: Paper, name: str, kind: str) -> Format:
    """How this file writes this field: a function from row and row number to the cell."""
    in_book = bool(paper.sheet)
    comma = paper.decimal == ","
    repeated = paper.repeats_total or name not in ("tax", "freight", "discount", "total")
    last_receipt = [""]

    def on_date(row: Row, number: int) -> Any:
        day = row.get(name)
        return None if day is None else (date.fromordinal(day) if in_book else _day(day, paper.date))

    def money(row: Row, number: int) -> Any:
        cents = row.get(name)
        if not repeated:
            # the sums of a receipt stand on its first line
            fresh = number == 0 or row.get("receipt") != last_receipt[0]
            last_receipt[0] = row.get("receipt") or ""
            cents = cents if fresh else None
        if cents is None:
            return None
        return cents / 100 if in_book else _money(cents, paper.money, comma)

    def quantity(row: Row, number: int) -> Any:
        return _quantity(row.get(name), paper, comma)

    def unit(row: Row, number: int) -> Any:
        given = row.get("quantity")
        return given[1] if given else None

    def length(row: Row, number: int) -> Any:
        um = row.get(name)
        return None if um is None else _length(um, paper.length, name, comma, in_book)

    def duration(row: Row, number: int) -> Any:
        seconds = row.get(name)
        return None if seconds is None else _duration(seconds, paper.durations, number, name, comma)

    def clock(row: Row, number: int) -> Any:
        # the 2025 notebook has both times on most rows, and hours on the rest
        if number % 5 == 0:
            return None
        begin = 8 * 3600 + (number * 1260) % 14400
        second = begin + (row["hours"] if name == "ended_at" else 0)
        return f"{second // 3600 % 24:02d}:{second % 3600 // 60:02d}"

    def word(row: Row, number: int) -> Any:
        text = row.get(name)
        return _spell(rng, name, text) if paper.spelt and text else text

    def tags(row: Row, number: int) -> Any:
        return _tags(row.get(name) or [], number)

    def yes_no(row: Row, number: int) -> Any:
        value = row.get(name)
        if name == "rework" and not value:
            return None
        return None if value is None else ("yes" if value else "no")

    def temperature(row: Row, number: int) -> Any:
        celsius = row.get(name)
        if celsius is None:
            return None
        return f"{celsius * 1.8 + 32:.1f}" if paper.fahrenheit else _comma(f"{celsius} C", comma)

    def percent(row: Row, number: int) -> Any:
        return None if row.get(name) is None else f"{row[name]} %"

    def plain(row: Row, number: int) -> Any:
        return row.get(name)

    if kind == "duration" and paper.durations == "clock":
        return lambda row, number: duration(row, number) if number % 5 == 0 else None
    by_kind = {
        "date": on_date,
        "money": money,
        "quantity": quantity,
        "unit": unit,
        "length": length,
        "duration": duration,
    }
    by_kind |= {
        "time": clock,
        "word": word,
        "tags": tags,
        "yes_no": yes_no,
        "temperature": temperature,
        "percent": percent,
    }
    return by_kind.get(kind, plain)


@lru_cache(maxsize=8192)
def _day(day: int, form: str) -> str:
    return date.fromordinal(day).strftime(form)


def _comma(text: str, comma: bool) -> str:
    return text.replace(".", ",") if comma else text


def _money(cents: int, sign: str, comma: bool) -> str:
    whole, rest = divmod(abs(cents), 100)
    minus = "-" if cents < 0 else ""
    if sign:
        # an accountant's hand: thousands marks, and brackets for what came back
        return f"({sign}{whole:,}.{rest:02d})" if cents < 0 else f"{sign}{whole:,}.{rest:02d}"
    if comma:
        return f"{minus}{f'{whole:,}'.replace(',', '.')},{rest:02d}"
    return f"{minus}{whole}.{rest:02d}"


def _quantity(given: Any, paper: Paper, comma: bool) -> str | None:
    if given is None:
        return None
    if isinstance(given, int):
        return str(given)
    number, unit = given
    if paper.ounces:
        # this log has bare numbers; its headers name the units
        return f"{number / w.ML_PER_FLUID_OUNCE:.1f}" if unit == "ml" else str(number)
    if paper.unit_column:
        packs, _, each = str(number).rpartition(" x ")
        return _comma(str(Decimal(packs or 1) * Decimal(each)), comma)
    return _comma(f"{number} {unit}", comma)


_EIGHTHS = ("", " 1/8", " 1/4", " 3/8", " 1/2", " 5/8", " 3/4", " 7/8")


def _length(um: int, unit: str, name: str, comma: bool, in_book: bool) -> Any:
    if unit == "in":
        if name == "thickness" and not in_book and um % 6350 == 0:
            return f"{um // 6350}/4"
        sixteenths = round(um / 1587.5)
        whole, rest = divmod(sixteenths, 16)
        part = f"{rest}/16" if rest % 2 else _EIGHTHS[rest // 2].strip()
        if in_book and not part:
            return whole
        return f"{whole} {part}".strip() if whole else part
    if unit == "cm" and name != "thickness":
        return _comma(_short(um / 10000), comma)
    if unit == "mm in cell":
        return f"{_short(um / 1000)} mm"
    return um // 1000 if in_book else _comma(_short(um / 1000), comma)


def _short(number: float) -> str:
    return f"{number:.4f}".rstrip("0").rstrip(".")


def _duration(seconds: int, style: str, number: int, name: str, comma: bool) -> str:
    if name == "stir_minutes":
        text = _comma(_short(seconds / 60), comma)
        return text if style == "minutes" else f"{text} min"
    if name == "cured_hours":
        return str(seconds // 3600) if style == "minutes" else f"{seconds // 3600} h"
    minutes = seconds // 60
    if style == "mixed":
        forms = (
            _short(seconds / 3600),
            f"{minutes // 60}:{minutes % 60:02d}",
            f"{minutes} min",
            f"{minutes // 60}h{minutes % 60:02d}",
        )
        return forms[number * 7 % 4]
    return _comma(_short(seconds / 3600), comma)


def _tags(tags: list[str], number: int) -> str | None:
    if not tags:
        return None
    if len(tags) > 1 and [int(t[2:]) for t in tags] == list(range(int(tags[0][2:]), int(tags[0][2:]) + len(tags))):
        return f"{tags[0]}..{tags[-1]}"
    return "; ".join(tags)


_OPERATIONS = {"sawing": "cutting", "surfacing": "planing", "carving": "CNC", "finishing": "oiling", "sanding": "sand"}


def _spell(rng: random.Random, name: str, text: str) -> str:
    if name == "species":
        return rng.choice(w.WOODS[text].spellings)
    if name == "finish":
        return rng.choice(w.FINISH_SPELLINGS[text])
    if name == "operation" and rng.random() < 0.3:
        return _OPERATIONS.get(text, text)
    return text


def _write_text(path: Path, paper: Paper, cells: list[list[Any]]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding=paper.encoding, newline="") as file:
        out = csv.writer(file, delimiter=paper.delimiter, lineterminator=paper.newline)
        for title in paper.titles:
            file.write(title + paper.newline)
        out.writerow(paper.columns.values())
        out.writerows(cells)


_README = (
    "This book has a sheet a year. Lots are chalked on the slabs.",
    "Sizes are of one piece; a run of coasters has its number under Pcs.",
)


def _write_book(path: Path, sheets: list[tuple[Paper, list[list[Any]]]]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    book = xlsxwriter.Workbook(str(path), {"constant_memory": True})
    book.set_properties({"created": datetime(2023, 11, 1), "title": "Workshop book"})
    dated, bold = book.add_format({"num_format": "yyyy-mm-dd"}), book.add_format({"bold": True})
    notes = book.add_worksheet("Read me")
    for number, line in enumerate(_README):
        notes.write_string(number, 0, line)
    for paper, cells in sheets:
        sheet = book.add_worksheet(paper.sheet)
        for number, title in enumerate(paper.titles):
            sheet.write_string(number, 0, title, bold)
        sheet.write_row(len(paper.titles), 0, list(paper.columns.values()), bold)
        for number, row in enumerate(cells, len(paper.titles) + 1):
            for place, cell in enumerate(row):
                if isinstance(cell, date):
                    sheet.write_datetime(number, place, datetime(cell.year, cell.month, cell.day), dated)
                elif isinstance(cell, str):
                    sheet.write_string(number, place, cell)
                elif cell is not None:
                    sheet.write_number(number, place, cell)
    book.close()


def _write_mappings(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for paper in PAPERS:
        if not paper.canonical:
            name = _kind(paper).replace("/", "-").rsplit(".", 1)[0].replace("-*", "") + (
                f"-{paper.sheet}" if paper.sheet else ""
            )
            (folder / f"{name}.toml").write_text(_mapping(paper), encoding="utf-8", newline="\n")
    text = f'# Notes, no records.\nfiles = "{PAPERS[3].path}"\nsheets = "Read me"\nrecord = ""\n'
    (folder / "pieces-workshop-book-Read-me.toml").write_text(text, encoding="utf-8", newline="\n")


def _kind(paper: Paper) -> str:
    # both online exports of 2026 are one kind of file: the later one mends the earlier
    return "sales/online-2026-*.csv" if paper.supersedes else paper.path


def _mapping(paper: Paper) -> str:
    lines = [
        f"files = {json.dumps(_kind(paper))}",
        f"sheets = {json.dumps(paper.sheet or '*')}",
        f"record = {json.dumps(paper.record)}",
        f"date_order = {json.dumps(paper.date_order)}",
        f"decimal = {json.dumps(paper.decimal)}",
        f"tax_included = {str(paper.tax_included).lower()}",
        f"repeats_total = {str(paper.repeats_total).lower()}",
        f"supersedes = {json.dumps(list(paper.supersedes))}",
        "",
        "[columns]",
        *(
            f"{name} = {json.dumps(header, ensure_ascii=False)}"
            for name, header in paper.columns.items()
            if not name.startswith("_")
        ),
    ]
    for section, values in (("constants", paper.constants), ("units", paper.units)):
        if values:
            lines += ["", f"[{section}]", *(f"{name} = {json.dumps(value)}" for name, value in values.items())]
    return "\n".join(lines) + "\n"
