"""The record types: what a maker's files can hold, field by field. The one place that knows them.

Tables, mappings, the entry workbook, the docs and the empty tables of the tests all follow from `RECORDS`.

A field's `kind` says how its text is read and what is stored:

=============  =======================================================  ======================================
kind           text                                                     stored column(s)
=============  =======================================================  ======================================
date           2026-05-31, 31.5.2026, 5/31/26                           `<name>` DATE
time           14:30                                                    `<name>` TIME
text           any                                                      `<name>` VARCHAR
tag            T-031 (a piece, lot, pour, receipt or order)             `<name>` VARCHAR, upper case
tags           T-031; T-040..T-042                                      `<name>` VARCHAR[], and the bridge table
word           a word of a vocabulary                                   `<name>` VARCHAR, its usual name
choice         one of `choices`                                         `<name>` VARCHAR
money          1.234,50                                                 `<name>_cents` BIGINT, minor units
quantity       2 x 500 ml, 12 bf                                        `<name>` BIGINT and `<name>_unit` VARCHAR
length         1 1/2 in, 8/4                                            `<name>_um` BIGINT, micrometres
duration       1:45, 105 min                                            `<column>` BIGINT, seconds
count          12                                                       `<name>` BIGINT
number         41,5                                                     `<name>` DOUBLE
temperature    68 F                                                     `<name>_c` DOUBLE, degrees Celsius
percent        55 %                                                     `<name>_pct` DOUBLE, 55.0
yes_no         yes, x, no                                               `<name>` BOOLEAN
=============  =======================================================  ======================================

A quantity's unit is one base unit a dimension: mg, mm3, ul, um, mm2, s, each (thousandths of one), kit (thousandths of
one; what a kit holds is a setting of the item).
"""

from collections.abc import Container, Iterator
from dataclasses import dataclass

STOCK_CATEGORIES = ("wood", "resin", "colourant", "abrasive", "finish", "hardware", "consumable", "packaging")
CATEGORIES = (*STOCK_CATEGORIES, "tool", "overhead", "selling", "equipment")


@dataclass(frozen=True)
class Field:
    """One field of a record: its `name`, `kind` (see the module), `meaning`, and how an empty cell is read."""

    name: str
    kind: str
    meaning: str
    required: bool = False
    default: object = None
    choices: tuple[str, ...] = ()
    vocabulary: str = ""
    column: str = ""
    sign: str = "any"  # "any", "not negative", "positive"
    makes: str = ""  # of a tag: what a row with it puts on record: "piece", "lot", "pour"
    leads: str = ""  # of a tag: what must be on record, or the link is emptied and told: "piece", "lot"
    unless: str = ""  # of a required field: the field that takes away the need where the row has it
    numbered: bool = False  # of a tag: where a table has none, each of its rows has one of its own

    def needed(self, filled: Container[str]) -> bool:
        """Whether a row that has the fields `filled` must have this one too."""
        return self.required and not (self.unless and self.unless in filled)

    def columns(self) -> dict[str, str]:
        """The stored columns with their DuckDB types."""
        name = self.column or self.name
        return {
            "date": {name: "DATE"},
            "time": {name: "TIME"},
            "text": {name: "VARCHAR"},
            "tag": {name: "VARCHAR"},
            "tags": {name: "VARCHAR[]"},
            "word": {name: "VARCHAR"},
            "choice": {name: "VARCHAR"},
            "money": {f"{name}_cents": "BIGINT"},
            "quantity": {name: "BIGINT", f"{name}_unit": "VARCHAR"},
            "unit": {},
            "length": {f"{name}_um": "BIGINT"},
            "duration": {name: "BIGINT"},
            "count": {name: "BIGINT"},
            "number": {name: "DOUBLE"},
            "temperature": {f"{name}_c": "DOUBLE"},
            "percent": {f"{name}_pct": "DOUBLE"},
            "yes_no": {name: "BOOLEAN"},
        }[self.kind]


@dataclass(frozen=True)
class Record:
    """A record type. `key` names the tag field that must be unique (a second use sets both rows aside)."""

    name: str
    meaning: str
    fields: tuple[Field, ...]
    key: str = ""

    def columns(self) -> dict[str, str]:
        """`row_id` and the stored columns of every field, with their DuckDB types, in order."""
        return {"row_id": "BIGINT"} | {c: t for f in self.fields for c, t in f.columns().items()}

    def __iter__(self) -> Iterator[Field]:
        return iter(self.fields)

    def field(self, name: str) -> Field:
        return next(f for f in self.fields if f.name == name)

    def list_fields(self) -> tuple[Field, ...]:
        """The fields that hold several tags; each has a bridge table `records.<record>_piece`."""
        return tuple(f for f in self.fields if f.kind == "tags")


def _date(meaning: str = "Day of the record.", name: str = "date", required: bool = True) -> Field:
    return Field(name, "date", meaning, required, column="on_date" if name == "date" else "")


def _size(*names: str) -> tuple[Field, ...]:
    return tuple(Field(n, "length", f"{n.replace('_', ' ').capitalize()}.", sign="positive") for n in names)


def _note() -> Field:
    return Field("note", "text", "Anything else worth keeping. No buyer's name or address.")


def _words(name: str, meaning: str, vocabulary: str = "", required: bool = False, default: object = None) -> Field:
    return Field(name, "word", meaning, required, default, vocabulary=vocabulary or name)


def _money(name: str, meaning: str, required: bool = False, sign: str = "any") -> Field:
    return Field(name, "money", meaning, required, sign=sign)


def _quantity(name: str, meaning: str, required: bool = False, sign: str = "not negative") -> Field:
    return Field(name, "quantity", meaning, required, sign=sign)


_UNIT = Field("unit", "unit", "Unit of the row's quantities, where their cells name none.")

RECORDS: dict[str, Record] = {
    r.name: r
    for r in (
        Record(
            "purchases",
            "A line of a receipt.",
            (
                _date("Day of the receipt."),
                Field("receipt", "tag", "Number of the receipt; its lines share freight, tax and discount."),
                Field("supplier", "text", "Who sold it."),
                _words("item", "What was bought.", required=True),
                _words("category", "What it is used for.", required=True),
                _quantity("quantity", "How much; negative for goods sent back.", sign="any"),
                _UNIT,
                _money("amount", "The line, before tax and freight.", required=True),
                _money("tax", "Sales tax or VAT of the receipt."),
                _money("freight", "Freight of the receipt."),
                _money("discount", "Discount on the receipt."),
                _money("total", "Total of the receipt, checked against its lines."),
                Field("paid_currency", "text", "Currency that was paid, if not the shop's."),
                Field("paid_rate", "number", "Shop currency for one unit of the currency paid.", sign="positive"),
                Field("lot", "tag", "Tag of the slab or batch.", makes="lot"),
                _words("species", "Wood species."),
                *_size("length", "width", "thickness", "diameter"),
                Field("moisture", "percent", "Moisture content of the wood."),
                Field("count", "count", "How many alike slabs the line holds.", sign="positive"),
                _date("Last day of use.", "expires", required=False),
                _words("machine", "The machine it is for."),
                Field("event", "tag", "The market or fair it is for."),
                _words("pool", "The overhead pool it belongs to."),
                Field("covers", "count", "Months that the bill covers.", sign="positive"),
                Field("returns", "tag", "The lot that goes back.", leads="lot"),
                _note(),
            ),
        ),
        Record(
            "pieces",
            "A piece, or a run of alike pieces made together.",
            (
                Field("piece", "tag", "Tag of the piece.", required=True, makes="piece"),
                _words("product", "What kind of piece it is.", required=True),
                _words("species", "Wood species."),
                _words("finish", "Finish, or resin work, of the piece."),
                Field("quantity", "count", "How many alike pieces.", default=1, sign="positive"),
                *_size("length", "width", "thickness", "diameter"),
                Field("lot", "tag", "The slab it was cut from.", leads="lot"),
                *_size("blank_length", "blank_width", "blank_thickness"),
                _money(
                    "blank_value",
                    "What one blank is worth beside others of its slab: where all have one, its cost goes by it.",
                    sign="not negative",
                ),
                _date("Day work began.", "started", required=False),
                _date("Day it was finished.", "finished", required=False),
                Field(
                    "status",
                    "choice",
                    "Where it stands.",
                    choices=("in progress", "finished", "scrapped", "test", "gift", "kept", "lost"),
                ),
                _date("Day it was scrapped, given, kept or lost.", "ended", required=False),
                Field("order_no", "tag", "The order it is made for."),
                _date("Day it was listed for sale.", "listed", required=False),
                _money("list_price", "Price asked for each, from the day it was listed on.", sign="not negative"),
                _money("opening_cost", "What had gone into it when the records began.", sign="not negative"),
                _note(),
            ),
            key="piece",
        ),
        Record(
            "hours",
            "A stretch of work.",
            (
                _date("Day of the work."),
                Field("started_at", "time", "Time work began."),
                Field("ended_at", "time", "Time work ended; before the time it began means after midnight."),
                Field("hours", "duration", "Length of the work (or both times).", column="seconds", sign="positive"),
                _words("person", "Who worked."),
                _words("operation", "What was done.", required=True),
                Field("pieces", "tags", "The pieces worked on.", leads="piece"),
                _words("machine", "The machine that ran."),
                Field("attended", "yes_no", "Whether somebody stood by.", default=True),
                Field("rework", "yes_no", "Whether it mended earlier work.", default=False),
                Field("event", "tag", "The market or fair it was for."),
                _note(),
            ),
        ),
        Record(
            "pours",
            "Resin mixed and poured; rows that share a tag are one pour.",
            (
                Field("pour", "tag", "Tag of the pour.", required=True, makes="pour", numbered=True),
                _date("Day of the pour."),
                Field(
                    "purpose",
                    "choice",
                    "What the pour was for.",
                    choices=("seal", "inlay", "casting", "flood", "repour"),
                ),
                Field("coat", "count", "Which coat it was.", sign="positive"),
                _words("resin", "The resin used.", vocabulary="item"),
                Field("lot", "tag", "The lot it came from.", leads="lot"),
                _quantity("part_a", "Resin part of the mix."),
                _quantity("part_b", "Hardener part of the mix."),
                _UNIT,
                Field("piece", "tag", "The piece poured.", leads="piece"),
                _quantity("deposited", "What ended up in or on the row's piece."),
                _quantity("left_in_cup", "What stayed in the cup."),
                _quantity("spilled", "What ran off or leaked."),
                _quantity("trimmed", "What was sanded or cut off the row's piece."),
                _words("colourant", "Colourant added.", vocabulary="item"),
                _quantity("colourant_quantity", "How much colourant."),
                Field(
                    "stir_minutes",
                    "duration",
                    "How long the mix was stirred.",
                    column="stir_seconds",
                    sign="not negative",
                ),
                Field("temperature", "temperature", "Temperature of the room."),
                Field("humidity", "percent", "Relative humidity of the room."),
                Field(
                    "cured_hours",
                    "duration",
                    "Hours until the piece was next touched.",
                    column="cured_seconds",
                    sign="not negative",
                ),
                _note(),
            ),
        ),
        Record(
            "usage",
            "Material taken off the shelf.",
            (
                _date("Day it was used."),
                _words("item", "What was used.", required=True),
                _quantity("quantity", "How much.", required=True),
                _UNIT,
                Field("lot", "tag", "The lot it came from.", leads="lot"),
                Field("pieces", "tags", "The pieces it went into.", leads="piece"),
                _note(),
            ),
        ),
        Record(
            "inspections",
            "A look at a piece.",
            (
                _date("Day of the look."),
                Field("piece", "tag", "The piece.", required=True, leads="piece"),
                _words("defect", "What was found.", default="none"),
                _words("found_at", "The operation at which it was found.", vocabulary="operation"),
                Field("action", "choice", "What was decided.", choices=("accept", "rework", "scrap", "discount")),
                Field("quantity", "count", "How many units it concerns.", sign="positive"),
                Field("cause", "text", "What caused it."),
                _note(),
            ),
        ),
        Record(
            "orders",
            "A commission.",
            (
                Field("order_no", "tag", "Number of the order.", required=True),
                _date("Day it was placed."),
                _words("channel", "Where it came from."),
                _words("product", "What is wanted."),
                _money("price", "Price agreed, before tax.", sign="not negative"),
                _date("Day it is due.", "due", required=False),
                _date("Day it was called off.", "cancelled", required=False),
                Field("quote", "tag", "The quote it rests on."),
                _note(),
            ),
            key="order_no",
        ),
        Record(
            "sales",
            "A piece, or material, handed over for money.",
            (
                _date("Day it was handed over."),
                Field("order_no", "tag", "The order it fills."),
                _words("channel", "Where it was sold.", required=True),
                Field("event", "tag", "The market or fair."),
                Field("piece", "tag", "The piece.", leads="piece"),
                _words("product", "What kind of piece, where no tag is known."),
                Field("lot", "tag", "Material sold as such.", leads="lot"),
                Field("quantity", "count", "How many; negative = came back.", default=1),
                _money("price", "Price of each, before tax.", required=True),
                _money("discount", "What the units of the row together cost less than that: 3 at 35 for 100 are 5."),
                _money("shipping_charged", "Shipping that the buyer paid."),
                _money("sales_tax", "Tax collected."),
                _money("channel_fee", "Fee kept by the channel."),
                _money("payment_fee", "Fee of the payment."),
                _money("shipping_paid", "What the shipping cost."),
                Field("returned_to", "choice", "Where a returned piece went.", choices=("stock", "scrap", "kept")),
                _note(),
            ),
        ),
        Record(
            "payments",
            "Money in or out.",
            (
                _date("Day the money moved."),
                Field(
                    "kind",
                    "choice",
                    "What the money was for.",
                    required=True,
                    choices=(
                        "deposit",
                        "balance",
                        "payout",
                        "refund",
                        "supplier",
                        "pay",
                        "drawing",
                        "capital",
                        "loan",
                        "tax",
                        "claim",
                        "voucher sold",
                        "voucher used",
                    ),
                ),
                _money(
                    "amount",
                    "How much; positive as the kind says, or as a bank writes it: a minus goes out.",
                    required=True,
                ),
                Field("order_no", "tag", "The order it belongs to."),
                Field("receipt", "tag", "The receipt it pays."),
                Field("event", "tag", "The market or fair."),
                _money("balance", "Balance of the account after it, as its statement says; cash is proved by it."),
                _note(),
            ),
        ),
        Record(
            "moves",
            "Pieces taken somewhere, or priced anew where they are.",
            (
                _date("Day of the move."),
                Field("pieces", "tags", "The pieces.", required=True, leads="piece"),
                Field(
                    "place",
                    "text",
                    "Where they are from then on: shop, a consignee, or an event; empty with a price, where they were.",
                    required=True,
                    unless="list_price",
                ),
                _money(
                    "list_price", "Price asked for each from that day on, where it is another.", sign="not negative"
                ),
                _note(),
            ),
        ),
        Record(
            "counts",
            "What lies on the shelf.",
            (
                _date("Day of the count; it is taken after that day's work."),
                _words("item", "What was counted.", required=True),
                _words("category", "What it is used for."),
                Field("lot", "tag", "The lot counted.", makes="lot"),
                _words("species", "Wood species."),
                _quantity("quantity", "How much is there.", required=True),
                _UNIT,
                _money("worth", "Its cost at the start; its value, if saved from a piece.", sign="not negative"),
                Field(
                    "piece",
                    "tag",
                    "The scrapped piece, or run with scrapped units, that it was saved from.",
                    leads="piece",
                ),
                Field(
                    "cause",
                    "choice",
                    "Why it differs from the book.",
                    choices=("count", "split", "expired", "lost", "own use"),
                    default="count",
                ),
                _note(),
            ),
        ),
        Record(
            "changes",
            "Something that was changed in the shop, to be compared before and after.",
            (
                _date("First day on which things are done the new way."),
                Field("change", "text", "What changed, in a few words.", required=True),
                _note(),
            ),
        ),
    )
}

MAKERS: dict[str, tuple[tuple[str, str], ...]] = {
    made: tuple((r.name, f.name) for r in RECORDS.values() for f in r if f.makes == made)
    for made in dict.fromkeys(f.makes for r in RECORDS.values() for f in r if f.makes)
}
"""What has a tag → the records and fields that put one on record, the usual one first."""
