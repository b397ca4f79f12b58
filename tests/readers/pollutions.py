"""One clean table, spoilt in one way at a time, with what must be read from it: for tests and for the benchmark.

The ways are those that RFC 4180 leaves open and that real exports show: marks, line ends, encodings, rows that are no
data, rows with a mark too many or too few, several tables in a file.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product

Row = list[str]

NAMES = ["date", "start", "count", "tag", "price", "kind", "what", "page", "note"]
PLACES = (0, 1, 2, 19, 38, 40)
_KINDS = ["wall clock", "serving tray", "coaster run", "house sign"]
_WHAT = [
    "Walnut, live edge, oiled twice",
    "Ash with a blue inlay",
    'Round of 12" in maple, cast river',
    "Oak; sanded to 320; two coats",
    "Cherry tray with handles",
    "Sign, carved: the letters 3 mm deep",
]
_NOTES = [
    "",
    "paid in cash",
    "second coat\nlooked better,\nso kept",
    "sold at the market; nice talk",
    'said "lovely", came back',
    "",
]


def clean_table(rows: int = 40) -> list[Row]:
    """The clean table: dates, times, counts, tags, prices, words, addresses and notes, header first."""
    body = [
        [
            f"2026-{1 + i % 12:02d}-{1 + i * 7 % 28:02d}",
            f"{8 + i % 9:02d}:{i * 13 % 60:02d}:00",
            str(1 + i * 3 % 7),
            f"T-{i + 1:03d}",
            f"{20 + i * 17 % 300}.{i * 7 % 100:02d}",
            _KINDS[i % 4],
            _WHAT[i * 5 % 6],
            f"https://example.org/p/{i + 100}",
            _NOTES[i % 6],
        ]
        for i in range(rows)
    ]
    return [NAMES, *body]


@dataclass(frozen=True)
class Polluted:
    """A spoilt file: its `group` and `name`, its bytes, and the tables to be read: header rows and records each."""

    group: str
    name: str
    data: bytes
    tables: tuple[tuple[list[Row], list[Row]], ...]

    @property
    def header(self) -> list[Row]:
        return [row for header, _ in self.tables for row in header]

    @property
    def records(self) -> list[Row]:
        return [row for _, records in self.tables for row in records]


def cell_text(cell: str, delimiter: str = ",", quote: str = '"', escape: str = '"', always: bool = False) -> str:
    special = (delimiter, quote, "\n", "\r")
    if not always and not any(mark in cell for mark in special):
        return cell
    return quote + cell.replace(quote, escape + quote) + quote


def line_text(
    row: Sequence[str], delimiter: str = ",", quote: str = '"', escape: str = '"', always: bool = False
) -> str:
    return delimiter.join(cell_text(cell, delimiter, quote, escape, always) for cell in row)


def text_of(rows: Sequence[Row], end: str = "\r\n", **marks: str | bool) -> str:
    return "".join(line_text(row, **marks) + end for row in rows)  # type: ignore[arg-type]


def _file(group: str, name: str, text: str, *tables: tuple[list[Row], list[Row]], encoding: str = "utf-8") -> Polluted:
    return Polluted(group, name, text.encode(encoding), tables)


def marks(table: list[Row]) -> Iterator[Polluted]:
    plain = (table[:1], table[1:])
    for delimiter in (
        ",",
        ";",
        "\t",
        "|",
        " ",
        ", ",
        "; ",
        "||",
        "::",
        "\t\t",
        " | ",
        "~",
        "^",
        "#",
        "~|~",
        "@@",
        "\x1f",
        "\x01",
    ):
        yield _file("delimiter", repr(delimiter), text_of(table, delimiter=delimiter), plain)
        yield _file("delimiter, all quoted", repr(delimiter), text_of(table, delimiter=delimiter, always=True), plain)
    for quote in ('"', "'", "`", "$", "%", "|", "~", "*"):
        for always in (False, True):
            yield _file(
                "quote",
                f"{quote}{' all' if always else ''}",
                text_of(table, quote=quote, escape=quote, always=always),
                plain,
            )
    for escape, delimiter in product(('"', "\\", "\0", "^", "/", "#", "'", "!"), (",", ";")):
        yield _file("escape", f"{escape!r} with {delimiter}", text_of(table, escape=escape, delimiter=delimiter), plain)
        yield _file(
            "escape, all quoted",
            f"{escape!r} with {delimiter}",
            text_of(table, escape=escape, delimiter=delimiter, always=True),
            plain,
        )


def lines(table: list[Row]) -> Iterator[Polluted]:
    plain = (table[:1], table[1:])
    for end in ("\n", "\r\n", "\r"):
        yield _file("line end", repr(end), text_of(table, end), plain)
        yield _file("line end", f"{end!r}, none at the end", text_of(table, end)[: -len(end)], plain)
        yield _file("line end", f"{end!r}, twice at the end", text_of(table, end) + end, plain)
        yield _file("line end", f"{end!r}, many at the end", text_of(table, end) + end * 5, plain)
    ends = ["\n", "\r\n", "\r"]
    yield _file("line end", "mixed", "".join(line_text(row) + ends[i % 3] for i, row in enumerate(table)), plain)
    for at, end in product((0, 1, 17, 39), ("\n", "\r")):
        text = "".join(line_text(row) + (end if i == at else "\r\n") for i, row in enumerate(table))
        yield _file("line end", f"{end!r} in line {at}", text, plain)
    for at in (1, 17, 39):
        yield _file("NUL", f"before line {at}", text_of(table[:at]) + "\0" + text_of(table[at:]), plain)
    yield _file("NUL", "at the end", text_of(table) + "\0" * 64, plain)


def encodings(table: list[Row]) -> Iterator[Polluted]:
    spoken = [
        table[0],
        *([*row[:5], row[5] + " für 5 €", *row[6:8], "naïve Größe, blé – façon" + row[8]] for row in table[1:]),
    ]
    plain = (spoken[:1], spoken[1:])
    for encoding in ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"):
        for delimiter in (",", ";", "\t"):
            yield _file(
                "encoding", f"{encoding} {delimiter!r}", text_of(spoken, delimiter=delimiter), plain, encoding=encoding
            )
    yield Polluted("encoding", "utf-16-be with mark", b"\xfe\xff" + text_of(spoken).encode("utf-16-be"), (plain,))
    latin = [[cell.replace("€", "ß").replace("–", "-") for cell in row] for row in spoken]
    yield _file("encoding", "latin-1", text_of(latin), (latin[:1], latin[1:]), encoding="latin-1")


def shapes(table: list[Row]) -> Iterator[Polluted]:
    header, body = table[:1], table[1:]
    yield _file("payload", "nothing", "")
    yield _file("payload", "a line end", "\r\n")
    yield _file("payload", "header only", text_of(header), (header, []))
    yield _file("payload", "header only, no line end", line_text(header[0]), (header, []))
    yield _file("payload", "one row", text_of(table[:2]), (header, body[:1]))
    yield _file("payload", "two rows", text_of(table[:3]), (header, body[:2]))
    yield _file("header", "none", text_of(body), ([], body))
    yield _file("header", "none, ;", text_of(body, delimiter=";"), ([], body))
    for count in (2, 3):
        more = [[f"{name} {word}" for name in NAMES] for word in ("in the shop", "as logged")][: count - 1]
        yield _file("header", f"{count} rows", text_of([*header, *more, *body]), ([*header, *more], body))
        split = [[name if i == 0 else f"part {i}" for name in NAMES] for i in range(count)]
        yield _file("header", f"{count} rows, alike", text_of([*split, *body]), (split, body))
    groups = ["", "", "", "", "sold", "", "", "web", ""]
    yield _file("header", "groups above", text_of([groups, *table]), ([groups, *header], body))
    units = ["", "h:m", "(n)", "", "$", "", "", "", ""]
    yield _file("header", "units below", text_of([*header, units, *body]), ([*header, units], body))
    for column in range(len(NAMES)):
        gone = [["" if i == column else name for i, name in enumerate(NAMES)]]
        yield _file("header", f"no name in column {column}", text_of([*gone, *body]), (gone, body))
        single = [[row[column]] for row in table if row[column]]
        yield _file("one column", NAMES[column], text_of(single), (single[:1], single[1:]))
    twice = [["note" if i in (3, 8) else name for i, name in enumerate(NAMES)]]
    yield _file("header", "a name twice", text_of([*twice, *body]), (twice, body))
    blank = [[*row[:4], "", *row[4:]] for row in table]
    yield _file("columns", "a blank one", text_of(blank), (blank[:1], blank[1:]))
    last = [[*row, ""] for row in table]
    yield _file("columns", "a blank last one", text_of(last), (last[:1], last[1:]))
    first = [["", *row] for row in table]
    yield _file("columns", "a blank first one", text_of(first), (first[:1], first[1:]))
    for columns in (2, 3, 5):
        narrow = [row[:columns] for row in table]
        yield _file("columns", f"only {columns}", text_of(narrow), (narrow[:1], narrow[1:]))
    thousands = [table[0], *([*row[:4], f"{i},{i * 7 % 1000:03d},000.50", *row[5:]] for i, row in enumerate(body, 1))]
    yield _file("numbers", "thousands marks", text_of(thousands), (header, thousands[1:]))
    commas = [table[0], *([*row[:4], row[4].replace(".", ","), *row[5:]] for row in body)]
    for delimiter in (",", ";", "\t"):
        yield _file(
            "numbers", f"decimal commas {delimiter!r}", text_of(commas, delimiter=delimiter), (header, commas[1:])
        )
    money = [table[0], *([*row[:4], f"$ {row[4]}", *row[5:]] for row in body)]
    yield _file("numbers", "currency", text_of(money), (header, money[1:]))


def around(table: list[Row]) -> Iterator[Polluted]:
    plain = (table[:1], table[1:])
    titles = {
        "a line": ["Sales of the shop\r\n"],
        "a line, then blank": ["Sales of the shop\r\n", "\r\n"],
        "lines": ["Sales of the shop\r\n", "made on 2026-07-01\r\n", "all prices in dollars\r\n"],
        "lines, then blank": ["Sales of the shop\r\n", "made on 2026-07-01\r\n", "\r\n", "\r\n"],
        "with a comma": ["Sales of the shop, first half\r\n", "\r\n"],
        "padded": ["Sales of the shop,,,,,,,,\r\n", ",,,,,,,,\r\n"],
        "name and value": ["shop:,two benches\r\n", "made:,2026-07-01\r\n", "\r\n"],
        "comment": ["# made by a till\r\n", "# 2026-07-01\r\n"],
        "quoted": ['"Sales, of the ""old"" shop"\r\n'],
        "blank": ["\r\n", "\r\n"],
        "ten": [f"line {i} of the preamble\r\n" for i in range(10)],
    }
    for name, above in titles.items():
        yield _file("title", name, "".join(above) + text_of(table), plain)
    feet = {
        "total": ["Total,,,,4711.00,,,,\r\n"],
        "blank, total": ["\r\n", "Total,,40,,4711.00,,,,\r\n"],
        "a line": ["made by a till on 2026-07-01\r\n"],
        "blank, lines": ["\r\n", "made by a till on 2026-07-01\r\n", "page 1 of 1\r\n"],
        "padded": ["end of the list,,,,,,,,\r\n"],
        "total and line": ["Sum:,,,,4711.00,,,,\r\n", "\r\n", "(prices in dollars)\r\n"],
    }
    for name, below in feet.items():
        yield _file("footer", name, text_of(table) + "".join(below), plain)
    for at in (1, 2, 20, len(table) - 1):
        yield _file("blank row", f"before row {at}", text_of(table[:at]) + "\r\n" + text_of(table[at:]), plain)
        yield _file(
            "blank row",
            f"separators before row {at}",
            text_of(table[:at]) + ",,,,,,,,\r\n" + text_of(table[at:]),
            plain,
        )
    yield _file("blank row", "every other", "".join(line_text(row) + "\r\n\r\n" for row in table), plain)


def several(table: list[Row]) -> Iterator[Polluted]:
    first = (table[:1], table[1:])
    fewer = [["day", "hours", "who"], *([row[0], row[2], row[5]] for row in table[1:])]
    words = [["finish", "supplier", "smell"], *([row[5], "hill mill", "fine"] for row in table[1:])]
    more = [[*NAMES, "extra", "more"], *([*row, str(i), "y"] for i, row in enumerate(table[1:]))]
    other = [[f"the {name}" for name in NAMES], *table[1:]]
    for name, second in {"same": table, "same width": other, "fewer": fewer, "more": more}.items():
        both = (first, (second[:1], second[1:]))
        yield _file("tables", f"{name}, blank between", text_of(table) + "\r\n" + text_of(second), *both)
        yield _file("tables", f"{name}, nothing between", text_of(table) + text_of(second), *both)
        yield _file("tables", f"{name}, two blanks between", text_of(table) + "\r\n\r\n" + text_of(second), *both)
        yield _file("tables", f"{name}, first", text_of(second) + "\r\n" + text_of(table), both[1], both[0])
        yield _file(
            "tables", f"{name}, a title between", text_of(table) + "\r\nthe second part\r\n" + text_of(second), *both
        )
    yield _file(
        "tables", "words, blank between", text_of(table) + "\r\n" + text_of(words), first, (words[:1], words[1:])
    )
    yield _file(
        "tables",
        "three",
        "\r\n".join(text_of(t) for t in (table, fewer, more)),
        first,
        (fewer[:1], fewer[1:]),
        (more[:1], more[1:]),
    )


def rows(table: list[Row], places: Sequence[int] = PLACES) -> Iterator[Polluted]:
    """A separator or a quote too many or too few, in each column of some rows."""
    for at, always, end in product(places, (False, True), ("\r\n", "\n")):
        row = table[at]
        cells = [cell_text(cell, always=always) for cell in row]
        name = f"row {at}, {end!r}{', all quoted' if always else ''}"
        above, below = text_of(table[:at], end, always=always), text_of(table[at + 1 :], end, always=always)
        for group, what, line, now in _spoilt(row, cells, always):
            all_rows = [*table[:at], now, *table[at + 1 :]]
            yield _file(group, f"{what}, {name}", above + line + end + below, (all_rows[:1], all_rows[1:]))


def _spoilt(row: Row, cells: list[str], always: bool) -> Iterator[tuple[str, str, str, Row]]:
    for column, (cell, value) in enumerate(zip(cells, row, strict=True)):
        more = [*row[:column], "", *row[column:]]
        yield "a separator more", f"column {column}", ",".join([*cells[:column], "", *cells[column:]]), more
        last = cells[column - 1] if column else ""
        if column and not always and '"' not in last + cell:
            fewer = ",".join([*cells[: column - 1], last + cell, *cells[column + 1 :]])
            glued = [*row[: column - 1], row[column - 1] + value, *row[column + 1 :]]
            yield "a separator fewer", f"column {column}", fewer, glued
        if '"' in value or "\n" in value:
            continue
        for where, text, odd in _quotes(cell, value):
            line = ",".join([*cells[:column], text, *cells[column + 1 :]])
            yield "a quote more", f"{where} column {column}", line, [*row[:column], odd, *row[column + 1 :]]


def _quotes(text: str, value: str) -> Iterator[tuple[str, str, str]]:
    middle = len(text) // 2
    yield "before", '"' + text, '"' + value
    yield "after", text + '"', value + '"'
    if len(value) > 3:
        inner = value[: middle - text.startswith('"')] + '"' + value[middle - text.startswith('"') :]
        yield "within", text[:middle] + '"' + text[middle:], inner


def other_delimiter(table: list[Row], places: Sequence[int] = PLACES) -> Iterator[Polluted]:
    for at, delimiter, end in product(places, (";", "\t", "|", " ", ", ", ":"), ("\r\n", "\n")):
        line = line_text(table[at], delimiter=delimiter) + end
        text = text_of(table[:at], end) + line + text_of(table[at + 1 :], end)
        yield _file("a row's own delimiter", f"{delimiter!r} in row {at}, {end!r}", text, (table[:1], table[1:]))


WAYS: tuple[Callable[[list[Row]], Iterator[Polluted]], ...] = (
    marks,
    lines,
    encodings,
    shapes,
    around,
    several,
    rows,
    other_delimiter,
)


def all_pollutions() -> Iterator[Polluted]:
    table = clean_table()
    for way in WAYS:
        yield from way(table)


def other_tables() -> dict[str, list[Row]]:
    """Clean tables of other shapes: words only, few columns, a shop's receipts."""
    species = ["black walnut", "white oak", "ash", "cherry"]
    remarks = ["", "nice, but late", "customer: happy", 'a "gift"', "split; glued"]
    items = ["8/4 walnut slab", "epoxy kit 1 gal", "P120 discs, 50 pk", '1 1/2" brass screws']
    words = [[f"T-{i:03d}", _KINDS[i * 3 % 4], species[i * 7 % 4], remarks[i * 2 % 5]] for i in range(30)]
    narrow = [[f"{1 + i % 28}.{1 + i % 12}.2026", _WHAT[i % 3], f"{i % 7}:{i * 7 % 60:02d}"] for i in range(25)]
    bought = [
        [
            f"{1 + i % 12}/{1 + i % 28}/26",
            items[i % 4],
            str(i % 5 + 1),
            f"${i * 37 % 900}.{i % 100:02d}",
            remarks[i % 5],
        ]
        for i in range(20)
    ]
    return {
        "words": [["piece", "product", "species", "remark"], *words],
        "narrow": [["day", "operation", "hours"], *narrow],
        "receipts": [["Date", "Item", "Qty", "Amount (USD)", "Note"], *bought],
        "two columns": [["name", "value"], *([f"thing {i}", str(i * 3)] for i in range(12))],
    }
