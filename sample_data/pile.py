"""Write the story down as the pile of files that a maker really has: many hands, many habits, some mistakes."""

import csv
import json
import random
from collections import Counter
from collections.abc import Iterable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import xlsxwriter

from sample_data import workshop as w
from sample_data.cells import Format, cells, formats
from sample_data.paper import CALENDAR_FROM, Paper
from sample_data.papers import PAPERS
from sample_data.papers_bench import PIECES
from sample_data.shelf import Lot
from sample_data.story import Row, Story

Written = dict[tuple[str, str], dict[str, Any]]
"""By file and sheet: record, rows (all that are records), twins, superseded, broken by code, titles, footers."""

_NO_LOT, _NO_BLANK, _NO_SIZE = 0.06, 0.04, 0.012


def write(rng: random.Random, story: Story, lots: list[Lot], folder: Path) -> Written:
    """Write `inbox/` and `mappings/`; gives back what went into each file, for the truth."""
    rows = {
        "purchases": story.purchases,
        "pieces": [_in_book(rng, piece) for piece in sorted(story.pieces, key=_begun)],
        "hours": [_in_notebook(row) for row in story.hours if not row["_lost"]],
        "pours": story.pours,
        "usage": list(_usage(story)),
        "inspections": [row for row in story.inspections if rng.random() > 0.03 or row["action"] != "accept"],
        "orders": story.orders,
        "payments": story.payments,
        "moves": story.moves,
        "counts": sorted(story.counts, key=lambda row: row["date"]),
        "sales": sorted((_on_slip(row) for row in story.sales), key=lambda row: (row["date"], row["_ref"])),
    }
    for name in ("hours", "pours", "inspections", "payments", "moves", "orders"):
        rows[name] = sorted(rows[name], key=lambda row: row["date"])
    written: Written = {}
    books: dict[str, list[tuple[Paper, list[list[Any]]]]] = {}
    for paper in PAPERS:
        lines, facts = _fill(rng, paper, rows[paper.record])
        written[paper.path, paper.sheet] = facts
        if paper.sheet:
            books.setdefault(paper.path, []).append((paper, lines))
        else:
            _WRITERS[Path(paper.path).suffix](folder / "inbox" / paper.path, paper, lines)
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


def _begun(piece: Row) -> int:
    return int(piece["started"] if "started" in piece else piece["finished"])


def _in_notebook(row: Row) -> Row:
    row = row if row["_named"] else row | {"pieces": []}
    by_hand = row["attended"] and "machine" not in row and "event" not in row
    if row["person"] == "Mara" and row["date"] >= CALENDAR_FROM.toordinal() and by_hand:
        return row | {"_calendar": True}
    return row


def _on_slip(row: Row) -> Row:
    if row["channel"] == "online":
        return row | {"order_no": row["_ref"], "note": ""}
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
    again = _again(paper, mine, rows)
    mine += again
    facts: dict[str, Any] = {"record": paper.record, "twins": len(again), "superseded": 0}
    facts["twins"] += sum("_twin" in row for row in mine)
    if paper.path == "sales/online-2025-rest.csv":
        facts["twins"] += sum(row["date"] <= date(2025, 6, 30).toordinal() for row in mine)
    if paper.path == "sales/online-2026-a.csv":
        mine = [row | {"price": row["price"] + 500} if number % 17 == 3 else row for number, row in enumerate(mine)]
        facts["superseded"] = len(mine)
    forms = formats(rng, paper)
    lines = [cells(row, forms, number) for number, row in enumerate(mine)]
    broken = _spoil(paper, mine, forms, lines) if mine else {}
    facts |= {"rows": len(lines), "broken": broken, "titles": len(paper.titles), "footers": 0}
    if paper.total and mine:
        lines.append(_footer(paper, mine, forms))
        facts["footers"] = 1
    return lines, facts


def _again(paper: Paper, mine: list[Row], rows: list[Row]) -> list[Row]:
    """The lines of a receipt that somebody entered a second time: last year's once more, or this year's at the end."""
    if paper.path == "receipts/receipts-2025.csv":
        first = paper.first.toordinal()
        old = [row for row in rows if row["date"] < first and row["supplier"] == "Gritworks" and "_alone" not in row]
        return _whole_receipt(old, len(old))
    if paper.path == "receipts/purchases-2026.csv":
        return _whole_receipt([row for row in mine if row["supplier"] == "Harrow Hardware"], 20)
    return []


def _spoil(paper: Paper, mine: list[Row], forms: list[tuple[str, Format]], lines: list[list[Any]]) -> dict[str, int]:
    """Put the file's broken rows among its lines; gives back how many there are by code."""
    place = list(paper.columns)
    plain = next((row for row in mine if _plain(paper, row)), mine[0])
    for number, (changed, _) in enumerate(paper.broken):
        bad = cells(_bare(plain), forms, number)
        for name, text in changed.items():
            bad[place.index(name)] = text
        lines.insert(len(lines) * (number + 1) // (len(paper.broken) + 1), bad)
    return dict(Counter(code for _, code in paper.broken))


def _whole_receipt(lines: list[Row], number: int) -> list[Row]:
    """All lines of the receipt on which the line of that number stands, or the last line."""
    return [row for row in lines if row["receipt"] == lines[min(number, len(lines)) - 1]["receipt"]]


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


def _footer(paper: Paper, mine: list[Row], forms: list[tuple[str, Format]]) -> list[str]:
    total = sum(row.get(paper.total) or 0 for row in mine)
    texts = [form({name: total}, 0) if name == paper.total else "" for name, form in forms]
    return ["Total", *texts[1:]]


def _write_text(path: Path, paper: Paper, lines: list[list[Any]]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding=paper.encoding, newline="") as file:
        out = csv.writer(file, delimiter=paper.delimiter, lineterminator=paper.newline)
        for title in paper.titles:
            file.write(title + paper.newline)
        out.writerow(paper.columns.values())
        out.writerows(lines)


def _write_json_lines(path: Path, paper: Paper, lines: list[list[Any]]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding="utf-8", newline="\n") as file:
        for line in lines:
            cells = {name: cell for name, cell in zip(paper.columns, line, strict=True) if cell is not None}
            file.write(json.dumps(cells, ensure_ascii=False) + "\n")


def _write_calendar(path: Path, paper: Paper, lines: list[list[Any]]) -> None:
    """An event a row: its title holds the operation, the pieces and whether it was rework (RFC 5545)."""
    path.parent.mkdir(parents=True, exist_ok=True)
    out = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Ostrel and Wick Bench//Calendar//EN"]
    for number, (day, begin, end, operation, pieces, rework, _) in enumerate(lines, 1):
        stamps = [day.replace("-", "") + "T" + time.replace(":", "") + "00" for time in (begin, end)]
        title = " ".join(filter(None, (operation.capitalize(), pieces, "rework" if rework else "")))
        title = title.replace(";", "\\;")
        out += ["BEGIN:VEVENT", f"UID:bench-{number}@ostrel-and-wick.example", f"DTSTAMP:{stamps[1]}Z"]
        out += [f"DTSTART:{stamps[0]}", f"DTEND:{stamps[1]}", f"SUMMARY:{title}", "END:VEVENT"]
    text = paper.newline.join([*out, "END:VCALENDAR", ""])
    path.write_text(text, encoding="utf-8", newline="")


_WRITERS = {".csv": _write_text, ".tsv": _write_text, ".jsonl": _write_json_lines, ".ics": _write_calendar}

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
    for paper, lines in sheets:
        sheet = book.add_worksheet(paper.sheet)
        for number, title in enumerate(paper.titles):
            sheet.write_string(number, 0, title, bold)
        sheet.write_row(len(paper.titles), 0, list(paper.columns.values()), bold)
        for number, row in enumerate(lines, len(paper.titles) + 1):
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
    text = f'# Notes, no records.\nfiles = "{PIECES[0].path}"\nsheets = "Read me"\nrecord = ""\n'
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
