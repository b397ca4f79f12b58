"""Files made to take the tool along, or damaged, for any test that needs one."""

import zipfile
from collections.abc import Callable
from pathlib import Path

import xlsxwriter

ODS = """<?xml version="1.0" encoding="UTF-8"?>
<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" office:version="1.3"
 xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"
 xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"><office:body><office:spreadsheet>
<table:table table:name="hours">{rows}</table:table></office:spreadsheet></office:body></office:document-content>"""
MANIFEST = """<?xml version="1.0" encoding="UTF-8"?>
<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0" manifest:version="1.3">
<manifest:file-entry manifest:full-path="/" manifest:media-type="application/vnd.oasis.opendocument.spreadsheet"/>
<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>"""
CELL = '<table:table-cell office:value-type="string"{more}><text:p>{text}</text:p></table:table-cell>'
WIDE = ' table:number-columns-repeated="16384"'


def cell(text: str, more: str = "") -> str:
    return CELL.format(text=text, more=more)


def ods(path: Path, rows: str) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet", zipfile.ZIP_STORED)
        archive.writestr("META-INF/manifest.xml", MANIFEST)
        archive.writestr("content.xml", ODS.format(rows=rows))
    return path


def book(path: Path, fill: Callable[[xlsxwriter.Workbook], None]) -> Path:
    with xlsxwriter.Workbook(path) as workbook:
        for name in ("hours", "sales"):
            workbook.add_worksheet(name).write_column(0, 0, ["date", "2026-03-01", "2026-03-02"])
        fill(workbook)
    return path


def changed(path: Path, part: str, change: Callable[[bytes], bytes]) -> Path:
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, change(data) if name == part else data)
    return path


def calendar_of_many_days(path: Path) -> Path:
    """A calendar that takes seconds to read: forty events on every day of two hundred years."""
    days = "".join(
        f"RDATE:{','.join(f'{year}{month:02}{day:02}' for month in range(1, 13) for day in range(1, 28))}\r\n"
        for year in range(1900, 2100)
    )
    events = f"BEGIN:VEVENT\r\nDTSTART:19000101\r\n{days}SUMMARY:Sanding\r\nEND:VEVENT\r\n" * 40
    path.write_text(f"BEGIN:VCALENDAR\r\n{events}END:VCALENDAR\r\n", encoding="utf-8")
    return path


def workbook_of_many_cells(path: Path) -> Path:
    """A workbook of some kilobytes whose cells take tens of megabytes, each filled, as a table's are."""
    return ods(path, f"<table:table-row>{cell('2026-03-01') * 40}</table:table-row>" * 4_000)
