"""The files that are written at the bench: the workshop book, the notebooks of hours, the logs of pours."""

from datetime import date

from sample_data.paper import CALENDAR_FROM, END_24, END_25, NEW_YEAR_25, NEW_YEAR_26, Paper, headers, same

_BOOK_23 = headers(
    "piece: Nr | product: What it is | species: Wood | finish: Surface | quantity: Pcs | "
    "length: L (in) | width: W (in) | thickness: T (in) | diameter: Dia (in) | lot: Cut from | "
    "blank_length: Blank L | blank_width: Blank W | blank_thickness: Blank T | started: Begun | "
    "finished: Done | status: State | ended: Out on | order_no: Order | listed: On offer since | "
    "list_price: Asking | opening_cost: Worth at start"
)
_INCHES = dict.fromkeys(
    ("length", "width", "thickness", "diameter", "blank_length", "blank_width", "blank_thickness"), "in"
)
_MILLIMETRES = dict.fromkeys(_INCHES, "mm")
_BOOK_25 = _BOOK_23 | {
    "piece": "Piece no.",
    "product": "Product",
    "species": "Species",
    "finish": "Finish",
    "length": "Length mm",
    "width": "Width mm",
    "thickness": "Thick mm",
    "diameter": "Across mm",
    "lot": "Slab",
    "blank_length": "Rough length",
    "blank_width": "Rough width",
    "blank_thickness": "Rough thick",
    "started": "Start",
    "finished": "Finished",
}
_BOOK = "pieces/workshop-book.xlsx"
PIECES = (
    Paper(
        _BOOK,
        "pieces",
        _BOOK_23,
        last=date(2023, 12, 31),
        sheet="2023",
        titles=("Workshop book 2023",),
        length="in",
        spelt=True,
        units=_INCHES,
    ),
    Paper(
        _BOOK,
        "pieces",
        _BOOK_23,
        date(2024, 1, 1),
        END_24,
        sheet="2024",
        titles=("Workshop book 2024",),
        length="in",
        spelt=True,
        units=_INCHES,
        broken=(
            ({"piece": "P-X001", "lot": ""}, "tag-twice"),
            ({"piece": "P-X001", "lot": "", "finish": "oil and wax", "list_price": "1"}, "tag-twice"),
        ),
    ),
    Paper(
        _BOOK,
        "pieces",
        _BOOK_25,
        NEW_YEAR_25,
        END_25,
        sheet="2025",
        titles=("Workshop book 2025", "all sizes in mm from now on"),
        spelt=True,
        units=_MILLIMETRES,
        broken=(({"piece": "P-X002", "quantity": "a few"}, "count"), ({"piece": "P-X003", "product": ""}, "missing")),
    ),
    Paper(
        _BOOK,
        "pieces",
        _BOOK_25,
        NEW_YEAR_26,
        sheet="2026",
        titles=("Workshop book 2026",),
        spelt=True,
        units=_MILLIMETRES,
    ),
)

HOURS = (
    Paper(
        "hours/hours-2023-24.csv",
        "hours",
        headers(
            "date: Day | person: Who | operation: Job | pieces: For | hours: Time | machine: On | "
            "attended: Stood by? | rework: Again? | event: Market | note: Remark"
        ),
        last=END_24,
        date="%m/%d/%Y",
        spelt=True,
        durations="mixed",
        date_order="month",
        broken=(({"hours": "all afternoon"}, "duration"), ({"hours": ""}, "hours"), ({"operation": ""}, "missing")),
    ),
    Paper(
        "hours/hours-2025.csv",
        "hours",
        headers(
            "date: Worked on | started_at: From | ended_at: To | hours: Hours | person: Name | "
            "operation: Task | pieces: Pieces | machine: Machine | attended: Attended | rework: Rework | "
            "event: Fair | note: Note"
        ),
        first=NEW_YEAR_25,
        last=END_25,
        delimiter=";",
        decimal=",",
        date="%d.%m.%Y",
        encoding="utf-8-sig",
        newline="\r\n",
        durations="clock",
        date_order="day",
        broken=(({"date": "31.02.2025"}, "date"), ({"rework": "perhaps"}, "yes-no")),
    ),
    Paper(
        "hours/hours-2026.csv",
        "hours",
        same("date person operation pieces hours machine attended rework event note"),
        first=NEW_YEAR_26,
        canonical=True,
        broken=(({"pieces": "P-0012..P-0003"}, "tag"),),
    ),
    Paper(
        "hours/mara-calendar.ics",
        "hours",
        same("date started_at ended_at operation pieces rework note"),
        first=CALENDAR_FROM,
        newline="\r\n",
        calendar=True,
        constants={"person": "Mara"},
    ),
)

POURS = (
    Paper(
        "pours/pour-log-2023-24.csv",
        "pours",
        headers(
            "pour: Pour | date: Poured | purpose: What for | coat: Coat | resin: Resin | part_a: A fl oz | "
            "part_b: B fl oz | piece: Piece | deposited: In piece g | left_in_cup: Cup g | spilled: Spilt g | "
            "trimmed: Sanded off g | colourant: Pigment | colourant_quantity: Pigment g | "
            "stir_minutes: Stirred min | temperature: Room F | humidity: RH | cured_hours: Left h"
        ),
        last=END_24,
        date="%m/%d/%Y",
        ounces=True,
        fahrenheit=True,
        durations="minutes",
        date_order="month",
        units={
            "part_a": "fl oz",
            "part_b": "fl oz",
            "deposited": "g",
            "left_in_cup": "g",
            "spilled": "g",
            "trimmed": "g",
        }
        | {"colourant_quantity": "g", "temperature": "F", "stir_minutes": "min", "cured_hours": "h"},
        broken=(
            ({"pour": "R-X001", "part_a": "a cupful"}, "quantity"),
            ({"pour": "R-X002", "purpose": "bath"}, "choice"),
        ),
    ),
    Paper(
        "pours/pour-log-2025.csv",
        "pours",
        headers(
            "pour: Mix no. | date: Date | purpose: Purpose | coat: Layer | resin: Product | part_a: Part A | "
            "part_b: Part B | piece: For piece | deposited: Poured in | left_in_cup: Left in cup | "
            "spilled: Ran off | trimmed: Cut off | colourant: Colour | colourant_quantity: Colour amount | "
            "stir_minutes: Stirred | temperature: Room | humidity: Humidity | cured_hours: Cured"
        ),
        first=NEW_YEAR_25,
        last=END_25,
        delimiter=";",
        decimal=",",
        date="%d.%m.%Y",
        newline="\r\n",
        durations="in cell",
        date_order="day",
        broken=(({"pour": "R-X003", "part_b": "250 thimbles"}, "unit"),),
    ),
    Paper(
        "pours/pours-2026.jsonl",
        "pours",
        same(
            "pour date purpose coat resin part_a part_b piece deposited left_in_cup spilled trimmed "
            "colourant colourant_quantity stir_minutes temperature humidity cured_hours"
        ),
        first=NEW_YEAR_26,
        durations="in cell",
        canonical=True,
    ),
)
