"""The files of the pile: what each is called, holds and looks like. One entry here is one kind of file."""

from dataclasses import dataclass, field
from datetime import date

from sample_data.bench import Row


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
    constants: dict[str, str] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    date_order: str = "year"
    tax_included: bool = False
    repeats_total: bool = False
    supersedes: tuple[str, ...] = ()
    broken: tuple[tuple[dict[str, str], str], ...] = ()

    def takes(self, row: Row) -> bool:
        day = row["started"] if self.record == "pieces" else row["date"]
        wanted = self.first.toordinal() <= day <= self.last.toordinal()
        return wanted and (not self.channels or row["channel"] in self.channels)


def _headers(text: str) -> dict[str, str]:
    """`date: Day | person: Who` as a dictionary."""
    pairs = (part.partition(":") for part in text.split("|"))
    return {name.strip(): header.strip() for name, _, header in pairs}


def _same(*names: str) -> dict[str, str]:
    return {name: name for name in names}


_D = date
_NEW_YEAR_25, _NEW_YEAR_26 = _D(2025, 1, 1), _D(2026, 1, 1)
_END_24, _END_25 = _D(2024, 12, 31), _D(2025, 12, 31)

RECEIPTS = (
    Paper(
        "receipts/receipts-2023-24.csv",
        "purchases",
        _headers(
            "date: Date | receipt: Receipt no. | supplier: Shop | item: What | category: Kind | "
            "quantity: How much | amount: Net $ | tax: Sales tax | freight: Freight | discount: Discount | "
            "total: Receipt total | lot: Tag | species: Wood | length: L in | width: W in | thickness: Th | "
            "diameter: Dia in | moisture: MC % | count: Slabs | expires: Use by | machine: Machine | "
            "event: Market | pool: Goes to | covers: Months | returns: Back | note: Remarks"
        ),
        last=_END_24,
        titles=("Ostrel & Wick Bench - receipts", "typed up from the shoe box; net of tax"),
        total="amount",
        date="%m/%d/%Y",
        newline="\r\n",
        length="in",
        money="$",
        spelt=True,
        date_order="month",
        repeats_total=True,
        units={"length": "in", "width": "in", "thickness": "in", "diameter": "in"},
        broken=(({"date": "13/45/2024"}, "date"), ({"amount": ""}, "missing"), ({"quantity": "3 armfuls"}, "unit")),
    ),
    Paper(
        "receipts/receipts-2025.csv",
        "purchases",
        _headers(
            "date: Bought on | receipt: Slip | supplier: From | item: Article | category: Use | "
            "quantity: Qty | unit: Unit | amount: Price w/o tax | tax: Tax | freight: Delivery | "
            "discount: Rebate | total: Sum of slip | lot: Lot | species: Species | length: Length cm | "
            "width: Width cm | thickness: Thickness mm | diameter: Across cm | moisture: Moisture | "
            "count: Pieces | expires: Keeps until | machine: Machine | event: Fair | pool: Pool | "
            "covers: Months covered | returns: Returned lot | note: Note"
        ),
        first=_NEW_YEAR_25,
        last=_END_25,
        delimiter=";",
        decimal=",",
        date="%d.%m.%Y",
        encoding="cp1252",
        newline="\r\n",
        length="cm",
        unit_column=True,
        spelt=True,
        date_order="day",
        units={"length": "cm", "width": "cm", "thickness": "mm", "diameter": "cm"},
        broken=(
            ({"amount": "see e-mail"}, "money"),
            ({"species": "soft maple", "item": "soft maple boards"}, "ambiguous-word"),
        ),
    ),
    Paper(
        "receipts/purchases-2026.csv",
        "purchases",
        _same(
            *(
                "date",
                "receipt",
                "supplier",
                "item",
                "category",
                "quantity",
                "amount",
                "tax",
                "freight",
                "discount",
                "total",
                "lot",
            ),
            *(
                "species",
                "length",
                "width",
                "thickness",
                "diameter",
                "moisture",
                "count",
                "expires",
                "machine",
                "event",
                "pool",
            ),
            *("covers", "returns", "note"),
        ),
        first=_NEW_YEAR_26,
        length="mm in cell",
        canonical=True,
        broken=(({"date": "2026-02-30"}, "date"), ({"covers": "twelve or so"}, "count")),
    ),
)

_BOOK_23 = _headers(
    "piece: Nr | product: What it is | species: Wood | finish: Surface | quantity: Pcs | "
    "length: L (in) | width: W (in) | thickness: T (in) | diameter: Dia (in) | lot: Cut from | "
    "blank_length: Blank L | blank_width: Blank W | blank_thickness: Blank T | started: Begun | "
    "finished: Done | status: State | ended: Out on | order_no: Order | listed: On offer since | "
    "list_price: Asking"
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
        last=_D(2023, 12, 31),
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
        _D(2024, 1, 1),
        _END_24,
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
        _NEW_YEAR_25,
        _END_25,
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
        _NEW_YEAR_26,
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
        _headers(
            "date: Day | person: Who | operation: Job | pieces: For | hours: Time | machine: On | "
            "attended: Stood by? | rework: Again? | event: Market | note: Remark"
        ),
        last=_END_24,
        date="%m/%d/%Y",
        spelt=True,
        durations="mixed",
        date_order="month",
        broken=(({"hours": "all afternoon"}, "duration"), ({"hours": ""}, "hours"), ({"operation": ""}, "missing")),
    ),
    Paper(
        "hours/hours-2025.csv",
        "hours",
        _headers(
            "date: Worked on | started_at: From | ended_at: To | hours: Hours | person: Name | "
            "operation: Task | pieces: Pieces | machine: Machine | attended: Attended | rework: Rework | "
            "event: Fair | note: Note"
        ),
        first=_NEW_YEAR_25,
        last=_END_25,
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
        _same("date", "person", "operation", "pieces", "hours", "machine", "attended", "rework", "event", "note"),
        first=_NEW_YEAR_26,
        canonical=True,
        broken=(({"pieces": "P-0012..P-0003"}, "tag"),),
    ),
)

_POUR = (
    "pour",
    "date",
    "purpose",
    "coat",
    "resin",
    "part_a",
    "part_b",
    "piece",
    "deposited",
    "left_in_cup",
    "spilled",
    "trimmed",
)
_POUR_MORE = ("colourant", "colourant_quantity", "stir_minutes", "temperature", "humidity", "cured_hours")
POURS = (
    Paper(
        "pours/pour-log-2023-24.csv",
        "pours",
        _headers(
            "pour: Pour | date: Poured | purpose: What for | coat: Coat | resin: Resin | part_a: A fl oz | "
            "part_b: B fl oz | piece: Piece | deposited: In piece g | left_in_cup: Cup g | spilled: Spilt g | "
            "trimmed: Sanded off g | colourant: Pigment | colourant_quantity: Pigment g | "
            "stir_minutes: Stirred min | temperature: Room F | humidity: RH | cured_hours: Left h"
        ),
        last=_END_24,
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
        _headers(
            "pour: Mix no. | date: Date | purpose: Purpose | coat: Layer | resin: Product | part_a: Part A | "
            "part_b: Part B | piece: For piece | deposited: Poured in | left_in_cup: Left in cup | "
            "spilled: Ran off | trimmed: Cut off | colourant: Colour | colourant_quantity: Colour amount | "
            "stir_minutes: Stirred | temperature: Room | humidity: Humidity | cured_hours: Cured"
        ),
        first=_NEW_YEAR_25,
        last=_END_25,
        delimiter=";",
        decimal=",",
        date="%d.%m.%Y",
        newline="\r\n",
        durations="in cell",
        date_order="day",
        broken=(({"pour": "R-X003", "part_b": "250 thimbles"}, "unit"),),
    ),
    Paper(
        "pours/pours-2026.tsv",
        "pours",
        _same(*_POUR, *_POUR_MORE),
        first=_NEW_YEAR_26,
        delimiter="\t",
        durations="in cell",
        canonical=True,
    ),
)

SHORT_LISTS = (
    Paper(
        "usage/used.tsv",
        "usage",
        _headers("date: When | item: Item | quantity: Amount | lot: Lot | pieces: For | note: Note"),
        delimiter="\t",
        broken=(({"quantity": "some"}, "quantity"),),
    ),
    Paper(
        "inspections/looks.csv",
        "inspections",
        _headers(
            "date: Date | piece: Piece | defect: Found | found_at: At | action: Then | quantity: Units | note: Note"
        ),
        broken=(({"action": "sigh"}, "choice"),),
    ),
    Paper(
        "orders/orders.csv",
        "orders",
        _same("order_no", "date", "channel", "product", "price", "due", "cancelled", "note"),
        canonical=True,
    ),
    Paper(
        "payments/payments.csv",
        "payments",
        _same("date", "kind", "amount", "order_no", "event", "note"),
        canonical=True,
        broken=(({"kind": "swap"}, "choice"),),
    ),
    Paper("moves/moves.csv", "moves", _same("date", "pieces", "place", "note"), canonical=True),
    Paper(
        "counts/counts.csv",
        "counts",
        _same("date", "item", "category", "lot", "species", "quantity", "worth", "cause", "note"),
        canonical=True,
        broken=(({"quantity": ""}, "missing"),),
    ),
)

_TILL = _headers("date: Date | event: Market | piece: Tag | product: Article | quantity: Qty | price: Price incl. tax")
_TILL |= {"sales_tax": "Tax in it", "payment_fee": "Card fee", "returned_to": "Back to", "note": "Slip"}
_ONLINE = _headers(
    "date: Shipped | note: Sale no. | _buyer: Buyer name | piece: SKU | product: Listing | quantity: Units"
)
_ONLINE |= {
    "price": "Unit price",
    "shipping_charged": "Postage charged",
    "sales_tax": "Tax collected",
    "channel_fee": "Fee",
}
_ONLINE |= {"payment_fee": "Processing", "shipping_paid": "Label", "returned_to": "Return"}
SALES = (
    Paper(
        "sales/till-2023-24.csv",
        "sales",
        _TILL,
        last=_END_24,
        channels=("market",),
        date="%m/%d/%Y",
        titles=("Till export",),
        total="sales_tax",
        date_order="month",
        tax_included=True,
        constants={"channel": "market"},
        broken=(({"price": ""}, "missing"), ({"quantity": "two and a bit"}, "count")),
    ),
    Paper(
        "sales/till-2025.csv",
        "sales",
        {
            f: {"date": "Day", "piece": "Piece", "product": "What", "price": "Gross price", "event": "Fair"}.get(f, h)
            for f, h in _TILL.items()
        },
        first=_NEW_YEAR_25,
        last=_END_25,
        channels=("market",),
        delimiter=";",
        decimal=",",
        date="%d.%m.%Y",
        date_order="day",
        tax_included=True,
        constants={"channel": "market"},
    ),
    Paper(
        "sales/till-2026.csv",
        "sales",
        _TILL,
        first=_NEW_YEAR_26,
        channels=("market",),
        tax_included=True,
        constants={"channel": "market"},
    ),
    Paper(
        "sales/online-2023-24.csv",
        "sales",
        _ONLINE,
        last=_END_24,
        channels=("online",),
        constants={"channel": "online"},
        money="$",
    ),
    Paper(
        "sales/online-2025-first-half.csv",
        "sales",
        _ONLINE,
        _NEW_YEAR_25,
        _D(2025, 6, 30),
        ("online",),
        constants={"channel": "online"},
    ),
    Paper(
        "sales/online-2025-rest.csv",
        "sales",
        _ONLINE,
        _D(2025, 5, 15),
        _END_25,
        ("online",),
        constants={"channel": "online"},
    ),
    Paper(
        "sales/online-2026-a.csv",
        "sales",
        _ONLINE,
        _NEW_YEAR_26,
        channels=("online",),
        constants={"channel": "online"},
        supersedes=("note",),
    ),
    Paper(
        "sales/online-2026-b-corrected.csv",
        "sales",
        _ONLINE,
        _NEW_YEAR_26,
        channels=("online",),
        constants={"channel": "online"},
        supersedes=("note",),
    ),
    Paper(
        "sales/by-hand.csv",
        "sales",
        _same(
            "date", "order_no", "channel", "piece", "product", "quantity", "price", "sales_tax", "channel_fee", "note"
        ),
        channels=("commission", "gallery"),
        canonical=True,
    ),
)

PAPERS = (*RECEIPTS, *PIECES, *HOURS, *POURS, *SHORT_LISTS, *SALES)
