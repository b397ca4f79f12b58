"""Tables written as files: CSV, a workbook, an OpenDocument sheet or JSON, in the ways of a language."""

import csv
import json
import zipfile
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from io import StringIO
from pathlib import Path
from random import Random
from xml.sax.saxutils import escape

import xlsxwriter

from tests.piles.tables import Money, Table

SUFFIXES = ("csv", "csv", "csv", "xlsx", "xlsx", "ods", "json")

_ODS = """<?xml version="1.0"?><office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"
 xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"
 xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" office:version="1.3">
<office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body></office:document-content>"""
_MANIFEST = """<?xml version="1.0"?>
<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">
<manifest:file-entry manifest:full-path="/" manifest:media-type="application/vnd.oasis.opendocument.spreadsheet"/>
</manifest:manifest>"""
_DATES = {"en": "%Y-%m-%d", "de": "%d.%m.%Y", "fr": "%d/%m/%Y", "es": "%d/%m/%Y", "nl": "%d-%m-%Y", "it": "%d/%m/%Y"}


class Hand:
    """How one file writes dates and numbers as text."""

    def __init__(self, rng: Random, language: str, currency: str) -> None:
        self.day = rng.choice(("%Y-%m-%d", "%m/%d/%Y")) if language == "en" else _DATES[language]
        self.mark = "." if language == "en" else ","
        sign = {"EUR": "€", "USD": "$", "GBP": "£"}[currency]
        self.money = rng.choice(("{}", "{}", "{}", f"{{}} {sign}" if language != "en" else f"{sign}{{}}"))

    def text(self, value: object) -> str:
        match value:
            case None:
                return ""
            case date():
                return value.strftime(self.day)
            case Money(cents):
                shown = self._number(Decimal(abs(cents)) / 100, 2)
                return ("-" if cents < 0 else "") + self.money.format(shown)
            case Decimal():
                return self._number(value)
            case (Decimal() as number, str() as unit):
                return f"{self._number(number)} {unit}"
            case list():
                return "; ".join(map(str, value))
        return str(value)

    def _number(self, number: Decimal, digits: int | None = None) -> str:
        text = f"{number:.{digits}f}" if digits is not None else f"{number.normalize():f}"
        return text.replace(".", self.mark)


def bare(value: object) -> object:
    """A value as a spreadsheet or JSON has it: numbers are numbers."""
    match value:
        case Money(cents):
            return cents / 100
        case Decimal():
            return float(value) if value % 1 else int(value)
        case (Decimal() as number, str() as unit):
            return f"{number.normalize():f} {unit}"
    return value


Rows = list[list[object]]


def rows_of(table: Table, title: list[str]) -> tuple[Rows, list[int]]:
    """All rows of a sheet from the first, and at which place (from 1) each record stands."""
    found: Rows = [[text] for text in title]
    if title:
        found.append([])
    found.append([column.header for column in table.columns])
    at = []
    for row in range(table.height):
        found += [stray for place, stray in table.strays if place == row]
        found.append([column.cells[row] for column in table.columns])
        at.append(len(found))
    found += [stray for place, stray in table.strays if place == table.height]
    return found, at


def write_csv(path: Path, rows: Rows, hand: Hand, delimiter: str) -> None:
    width = max(map(len, rows))
    text = StringIO()
    writer = csv.writer(text, delimiter=delimiter, lineterminator="\n")
    for row in rows:
        writer.writerow([hand.text(value) for value in row] + [""] * (width - len(row)))
    path.write_text(text.getvalue(), encoding="utf-8")


def write_xlsx(path: Path, sheets: Sequence[tuple[str, Rows]]) -> None:
    with xlsxwriter.Workbook(str(path), {"default_date_format": "yyyy-mm-dd"}) as book:
        for name, rows in sheets:
            sheet = book.add_worksheet(name)
            for at, row in enumerate(rows):
                for column, value in enumerate(map(bare, row)):
                    if value is not None:
                        sheet.write(at, column, value)


def write_ods(path: Path, sheets: Sequence[tuple[str, Rows]]) -> None:
    tables = "".join(
        f'<table:table table:name="{escape(name)}">{"".join(map(_ods_row, rows))}</table:table>'
        for name, rows in sheets
    )
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet", zipfile.ZIP_STORED)
        archive.writestr("META-INF/manifest.xml", _MANIFEST)
        archive.writestr("content.xml", _ODS.format(tables=tables))


def _ods_row(row: list[object]) -> str:
    return f"<table:table-row>{''.join(map(_ods_cell, map(bare, row or [None])))}</table:table-row>"


def _ods_cell(value: object) -> str:
    match value:
        case None:
            return "<table:table-cell/>"
        case date():
            kind = f'date" office:date-value="{value.isoformat()}'
        case int() | float():
            kind = f'float" office:value="{value}'
        case _:
            kind = "string"
    return f'<table:table-cell office:value-type="{kind}"><text:p>{escape(str(value))}</text:p></table:table-cell>'


def write_json(path: Path, table: Table) -> None:
    objects = []
    for row in range(table.height):
        cells = [(column.header, bare(column.cells[row])) for column in table.columns]
        objects.append({name: value.isoformat() if isinstance(value, date) else value for name, value in cells})
    path.write_text(json.dumps(objects, ensure_ascii=False, indent=1), encoding="utf-8")
