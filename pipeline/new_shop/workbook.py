"""The entry workbook: a sheet a record whose header is the record's own field names, so that it maps itself."""

from collections.abc import Sequence
from datetime import date
from io import BytesIO
from typing import Any

import xlsxwriter
from xlsxwriter.utility import xl_col_to_name

from pipeline.cleaning.synonyms import SHOP_TABLES
from pipeline.new_shop.examples import examples
from pipeline.records import CATEGORIES, RECORDS, Field, Record
from pipeline.reference import rows, vocabulary
from pipeline.shop import Shop

LAST_ROW = 2000
"""How far down the drop-downs and the formats of the cells reach."""

NEEDED_COLOUR, OTHER_COLOUR = "#F3D9A4", "#E4E8E6"

HOW_TO_WRITE = {
    "date": "A date: 2026-05-31.",
    "time": "A time of day: 14:30.",
    "text": "Any text.",
    "tag": "A tag of your own, such as T-031.",
    "tags": "One tag or several: T-031; T-040..T-042.",
    "word": "A word; the list shows known ones, others are kept as you write them.",
    "choice": "One of the list.",
    "money": "An amount in {currency}: 1234.50.",
    "quantity": "A number with its unit: 2.5 kg, 500 ml, 12 bf, 3 each.",
    "unit": "A unit, such as g, ml, bf or each, for the quantities of the row that name none.",
    "length": "A length with its unit: 250 mm, 1 1/2 in; wood by quarters too: 8/4.",
    "duration": "A length of time: 1:45, 105 min; a bare number is {bare}.",
    "count": "A whole number.",
    "number": "A number.",
    "temperature": "A temperature with its unit: 20 C, 68 F.",
    "percent": "A share of a hundred: 45 %.",
    "yes_no": "yes or no.",
}
"""Kind of field → how a cell of it is written, units named."""

# a cell that holds text keeps 3-4, 1:45 and 45 % as they were typed
_FORMATS = {"date": "yyyy-mm-dd", "money": "0.00", "count": "0", "number": "General"}
_LISTS = "lists"


def content(shop: Shop) -> bytes:
    """The workbook as a file. Drop-downs hold the choices, the usual words and the names that `shop` knows."""
    shown, file = examples(shop["start"]), BytesIO()
    options = {"default_date_format": "yyyy-mm-dd", "strings_to_formulas": False, "in_memory": True}
    with xlsxwriter.Workbook(file, options) as book:
        lists = _Lists(book)
        for record in RECORDS.values():
            _sheet(book, record, shown[record.name], lists, shop)
        lists.write()
    return file.getvalue()


class _Lists:
    """The words of the drop-downs, a column each of a hidden sheet: a list in a cell's rule may hold 255 characters."""

    def __init__(self, book: Any) -> None:
        self._book = book
        self._columns: dict[tuple[str, ...], str] = {}

    def source(self, words: Sequence[str]) -> str:
        """The range that holds these words."""
        column = xl_col_to_name(len(self._columns))
        return self._columns.setdefault(tuple(words), f"={_LISTS}!${column}$1:${column}${len(words)}")

    def write(self) -> None:
        sheet = self._book.add_worksheet(_LISTS)
        for place, words in enumerate(self._columns):
            sheet.write_column(0, place, words)
        sheet.hide()


def _sheet(book: Any, record: Record, shown: list[dict[str, Any]], lists: _Lists, shop: Shop) -> None:
    sheet = book.add_worksheet(record.name)
    sheet.freeze_panes(1, 1)
    for place, field in enumerate(record):
        number_format = _FORMATS.get(field.kind, "@")
        sheet.set_column(place, place, _width(field), book.add_format({"num_format": number_format}))
        colour = NEEDED_COLOUR if field.required else OTHER_COLOUR
        head = book.add_format({"bold": field.required, "bg_color": colour, "bottom": 1, "num_format": "@"})
        sheet.write_string(0, place, field.name, head)
        sheet.write_comment(0, place, head_note(field, shop), {"x_scale": 2, "y_scale": 1.2})
        words, strict = choices(field, shop)
        if words:
            rule = {"validate": "list", "source": lists.source(words), "show_error": strict}
            if strict:
                rule |= {"error_title": field.name, "error_message": "Choose one of the list, or leave it empty."}
            sheet.data_validation(1, place, LAST_ROW, place, rule)
    pale = {"italic": True, "font_color": "#777777"}
    for row, cells in enumerate(shown, 1):
        for place, field in enumerate(record):
            if field.name in cells:
                number_format = _FORMATS.get(field.kind, "@")
                _cell(sheet, row, place, cells[field.name], book.add_format({"num_format": number_format, **pale}))


def _cell(sheet: Any, row: int, place: int, value: Any, style: Any) -> None:
    if isinstance(value, date):
        sheet.write_datetime(row, place, value, style)
    elif isinstance(value, str):
        sheet.write_string(row, place, value, style)
    else:
        sheet.write_number(row, place, value, style)


def head_note(field: Field, shop: Shop) -> str:
    """What the note on a column's head says: whether it is needed, its meaning, how to write it, its default."""
    bare = "minutes" if field.name.endswith("minutes") else "hours"
    how = HOW_TO_WRITE[field.kind].format(currency=shop["currency"], bare=bare)
    empty = {True: "yes", False: "no"}.get(field.default, field.default) if field.default is not None else None  # type: ignore[call-overload]
    default = f" Left empty: {empty}." if empty is not None else ""
    other = f", or {field.unless}" if field.unless else ""
    return f"{f'Needed{other}. ' if field.required else ''}{field.meaning} {how}{default}"


def choices(field: Field, shop: Shop) -> tuple[list[str], bool]:
    """The words of the drop-down of a field, and whether no other may stand there."""
    if field.kind == "choice":
        return list(field.choices), True
    if field.kind == "yes_no":
        return ["yes", "no"], True
    if field.kind != "word":
        return [], False
    if field.vocabulary == "category":
        return list(CATEGORIES), True
    return _known(field.vocabulary, shop), False


def _known(name: str, shop: Shop) -> list[str]:
    table = SHOP_TABLES.get(name)
    own = shop.names(table) if table else []
    usual = {"species": [row["common_name"] for row in rows("species")], "defect": [r["term"] for r in rows("defects")]}
    return list(dict.fromkeys([*own, *usual.get(name, []), *sorted(set(vocabulary(name).values()))]))


def _width(field: Field) -> int:
    return max(len(field.name) + 2, {"date": 12, "text": 24, "word": 16, "tags": 18}.get(field.kind, 10))
