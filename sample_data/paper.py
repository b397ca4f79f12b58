"""What a file of the pile is called, holds and looks like."""

from dataclasses import dataclass, field
from datetime import date

from sample_data.story import Row


@dataclass(frozen=True)
class Paper:
    """A file, or a sheet of a workbook.

    `columns`: field → header as it stands in the file, in its order; a key that begins with `_` is no field, so no
    mapping names its column. `taken`: which rows go in. `broken`: rows that must be set aside, as changed cells of
    an ordinary row (text as it stands) with the code of their fault.
    """

    path: str
    record: str
    columns: dict[str, str] = field(default_factory=dict)
    first: date = date.min
    last: date = date.max
    channels: tuple[str, ...] = ()
    sheet: str = ""
    titles: tuple[str, ...] = ()
    total: str = ""  # the field whose sum stands at the foot
    delimiter: str = ","
    decimal: str = "."
    date: str = "%Y-%m-%d"
    encoding: str = "utf-8"
    newline: str = "\n"
    length: str = "mm"
    money: str = ""
    unit_column: bool = False
    ounces: bool = False
    fahrenheit: bool = False
    spelt: bool = False
    durations: str = "hours"
    canonical: bool = False
    calendar: bool = False
    constants: dict[str, str] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    date_order: str = "year"
    tax_included: bool = False
    repeats_total: bool = False
    supersedes: tuple[str, ...] = ()
    broken: tuple[tuple[dict[str, str], str], ...] = ()

    def takes(self, row: Row) -> bool:
        day = int(row["started"] if "started" in row else row["finished"]) if self.record == "pieces" else row["date"]
        wanted = self.first.toordinal() <= day <= self.last.toordinal()
        return (
            wanted
            and row.get("_calendar", False) == self.calendar
            and (not self.channels or row["channel"] in self.channels)
        )


def headers(text: str) -> dict[str, str]:
    """`date: Day | person: Who` as a dictionary."""
    pairs = (part.partition(":") for part in text.split("|"))
    return {name.strip(): header.strip() for name, _, header in pairs}


def same(names: str) -> dict[str, str]:
    return {name: name for name in names.split()}


NEW_YEAR_25, NEW_YEAR_26 = date(2025, 1, 1), date(2026, 1, 1)
END_24, END_25 = date(2024, 12, 31), date(2025, 12, 31)
CALENDAR_FROM = date(2026, 10, 1)
"""From then on Mara keeps her hours at hand tools in a calendar."""
