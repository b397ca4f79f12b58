"""The settings of a shop: what `shop.toml` can say, and why one would change it. The one place that knows them.

The loader, `settings.*` in the database, the file that `kerfledger new` writes and the docs all follow from `SETTINGS`.
Every rate, fee and pool is dated: a record uses the one in force on its day, so a raise never re-prices history.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

PPM = 1_000_000

MEASURES = (
    *("bought", "counted", "mixed", "colourant", "deposited", "left in cup", "spilled", "trimmed", "other", "stuck"),
)
"""The kinds of figures in a balance of resin."""

PRICED_BY = ("g", "kg", "oz", "lb", "ml", "l", "fl oz", "gal", "cm3", "m3", "bf", "m", "ft", "m2", "each", "kit")
"""Units that a price list can be in; `sql/price/today.sql` turns them into base units."""


@dataclass(frozen=True)
class Setting:
    """One setting: its name in `shop.toml`, its `kind`, its default, and why one would change it.

    Kinds and what is stored: text, choice, zone (of time) → VARCHAR; names (a list) → VARCHAR with
    "; " between them; date → DATE; count → BIGINT; yes_no → BOOLEAN; money → `<name>_cents` BIGINT; rate (3.875 an
    hour) → `<name>_cents` DOUBLE, to a thousandth of one; share (0.065) → `<name>_ppm` BIGINT, parts in a million;
    number → DOUBLE; density (g/ml) → `density_ug_per_ul` BIGINT; millilitres → `<name>` BIGINT microlitres; grams →
    `<name>` BIGINT milligrams.
    """

    name: str
    kind: str
    default: Any
    why: str
    required: bool = False
    choices: tuple[str, ...] = ()

    @property
    def column(self) -> str:
        suffix = {"share": "_ppm", "density": "_ug_per_ul", "millilitres": "_ul", "grams": "_mg"}
        cents = "_cents" if self.kind in ("money", "rate") else ""
        return {"from": "from_date"}.get(self.name, self.name) + suffix.get(self.kind, cents)

    @property
    def type(self) -> str:
        types = dict.fromkeys(("text", "choice", "names", "zone"), "VARCHAR") | {"date": "DATE", "yes_no": "BOOLEAN"}
        return (types | {"number": "DOUBLE", "rate": "DOUBLE"}).get(self.kind, "BIGINT")


@dataclass(frozen=True)
class SettingsTable:
    """A table `settings.<name>`, read from the section `section` of `shop.toml`.

    `dated` names the nested list whose entries each begin on a `from` date; without that list its settings may stand in
    the section itself and begin at `start`.
    """

    name: str
    section: str
    meaning: str
    settings: tuple[Setting, ...]
    dated: str = ""
    dated_settings: tuple[Setting, ...] = ()

    def columns(self) -> dict[str, str]:
        dates = {"from_date": "DATE"} | ({} if self.section else {"as_of": "DATE", "minor_units": "BIGINT"})
        return (
            {"row_id": "BIGINT", "position": "BIGINT"}
            | {s.column: s.type for s in self.settings}
            | dates
            | {s.column: s.type for s in self.dated_settings}
        )


def _name(why: str) -> Setting:
    return Setting("name", "text", None, why, required=True)


SETTINGS: dict[str, SettingsTable] = {
    t.name: t
    for t in (
        SettingsTable(
            "shop",
            "",
            "The shop, one row. What holds for its whole history.",
            (
                Setting("name", "text", "My shop", "Stands on reports and quotes."),
                Setting("currency", "text", "USD", "ISO 4217 code of the money you count in."),
                Setting(
                    "units", "choice", "metric", "What a bare length or volume is shown in.", choices=("metric", "us")
                ),
                Setting(
                    "sizes_in",
                    "choice",
                    None,
                    "Unit of a bare length (600 × 300), where neither its file nor its mapping names one.",
                    choices=("mm", "cm", "m", "in", "ft"),
                ),
                Setting(
                    "region",
                    "choice",
                    None,
                    "Where you work: which wood a bare name means, such as ash; else it follows the currency.",
                    choices=("north america", "europe"),
                ),
                Setting("usual_resin", "text", None, "Resin of a pour that names none, where you have several."),
                Setting("time_zone", "zone", "", "Shop's clock (IANA name); else this machine's or a calendar's own."),
                Setting("start", "date", None, "The day the records begin.", required=True),
                Setting("opening_cash", "money", 0, "Money in the till and bank on that day."),
                Setting("opening_tax_owed", "money", 0, "Sales tax collected and not yet paid on that day."),
                Setting("opening_deposits", "money", 0, "Deposits held on that day for pieces not yet handed over."),
                Setting(
                    "cost_flow",
                    "choice",
                    "fifo",
                    "Which purchase a use draws on: the oldest, or the average of all.",
                    choices=("fifo", "average"),
                ),
                Setting(
                    "late_receipt_days",
                    "count",
                    7,
                    "A receipt dated this many days after a use may still cover it: people write receipts up late.",
                ),
                Setting(
                    "scrap_circle", "choice", "shop", "Who carries normal scrap.", choices=("shop", "product", "order")
                ),
                Setting("quote_days", "count", 30, "Days that a quote holds (common practice, no source)."),
                Setting(
                    "deposit",
                    "share",
                    Decimal("0.5"),
                    "Share of the price asked for when an order is placed; it stands on the client's sheet.",
                ),
                Setting("quote_terms", "text", "", "Your own terms, a sentence or two on every client's sheet."),
                Setting("kerf_mm", "number", 3.2, "Width of the saw's cut (common practice, no source: 1/8 in)."),
            ),
        ),
        SettingsTable(
            "rule",
            "rules",
            "The shop's rules, by date: at the top of the file from the start on, in [[rules]] from a later day on.",
            (
                Setting(
                    "tax_reclaimable",
                    "yes_no",
                    False,
                    "Whether the tax on purchases comes back; else it is part of what things cost.",
                ),
                Setting(
                    "tax_regime",
                    "choice",
                    "none",
                    "How tax on sales works where you are.",
                    choices=("none", "sales tax", "vat", "flat rate"),
                ),
                Setting(
                    "flat_rate",
                    "share",
                    Decimal(0),
                    "Under a flat rate: the share of what buyers pay, tax included, that you owe.",
                ),
                Setting(
                    "normal_scrap",
                    "share",
                    Decimal("0.05"),
                    "Scrap up to this share of a month's good work is a cost of the good pieces; beyond it a loss.",
                ),
                Setting(
                    "normal_rework",
                    "share",
                    None,
                    "Mending up to this share of a month's good work is a cost of the pieces; without it all is.",
                ),
                Setting("mix_tolerance", "share", Decimal("0.05"), "A mix further off its ratio than this is flagged."),
                Setting(
                    "stir_minutes", "number", 3.0, "A mix stirred for less is flagged (common practice, no source)."
                ),
                Setting("cure_hours", "number", 24.0, "A coat touched sooner is flagged (common practice, no source)."),
                Setting(
                    "cold_c", "number", 16.0, "A pour in a colder room is flagged; the product's data sheet decides."
                ),
                Setting(
                    "damp_pct", "number", 75.0, "A pour in a damper room is flagged; the product's data sheet decides."
                ),
                Setting("wet_wood_pct", "number", 12.0, "A pour on wood above this moisture is flagged."),
            ),
        ),
        SettingsTable(
            "person_rate",
            "people",
            "What an hour of a person is worth, by date.",
            (
                _name("As it stands in the hours."),
                Setting(
                    "role",
                    "choice",
                    "owner",
                    "Owners' and partners' pay is no cost in the books.",
                    choices=("owner", "partner", "employee"),
                ),
                Setting("paid", "yes_no", False, "Whether the hours are really paid out."),
            ),
            "rates",
            (Setting("rate", "rate", 0, "Pay for one hour."),),
        ),
        SettingsTable(
            "machine",
            "machines",
            "A machine and what it costs.",
            (
                _name("As it stands in the hours."),
                Setting("bought", "date", None, "Day it was put to use; at `start` if earlier."),
                Setting("cost", "money", 0, "What it cost, or its book value at `start`."),
                Setting("salvage", "money", 0, "What it will bring when it goes."),
                Setting("months", "count", 60, "Months it will serve."),
            ),
            "rates",
            (Setting("rate", "rate", None, "Budgeted cost of one hour; without it the normal rate is worked out."),),
        ),
        SettingsTable(
            "pool",
            "pools",
            "A pool of overhead, by date.",
            (
                _name("As it stands in the purchases."),
                Setting(
                    "source",
                    "choice",
                    "amount",
                    "Where its cost comes from: a monthly amount, or its receipts.",
                    choices=("amount", "receipts"),
                ),
                Setting(
                    "driver",
                    "choice",
                    "bench hours",
                    "What a piece's share goes by.",
                    choices=("bench hours", "machine hours", "labour cost"),
                ),
                Setting(
                    "basis",
                    "choice",
                    "normal",
                    "Rate by the last twelve months, or a budgeted rate; where a rate is given, that one.",
                    choices=("normal", "budget"),
                ),
                Setting(
                    "operations",
                    "names",
                    None,
                    "Shop work whose pay is a part of its cost, such as cleaning; the rest is a cost of its month.",
                ),
            ),
            "amounts",
            (
                Setting("amount", "money", 0, "Cost of one month, where the source is `amount`."),
                Setting(
                    "rate", "rate", None, "Budgeted rate for one hour, or for one unit of labour cost (1.5: 150 %)."
                ),
            ),
        ),
        SettingsTable(
            "channel",
            "channels",
            "A channel and its fees, by date.",
            (
                _name("As it stands in the sales."),
                Setting(
                    "tax_by", "choice", "us", "Who pays collected tax on: us or the channel.", choices=("us", "channel")
                ),
                Setting(
                    "prices_hold_tax",
                    "yes_no",
                    False,
                    "Whether its prices have the tax in them; a file's mapping may say so too (tax_included).",
                ),
            ),
            "fees",
            (
                Setting(
                    "share", "share", None, "Fee as a share of the price; where no fee is said, its sales show them."
                ),
                Setting("fixed", "money", None, "Fee for each sale."),
                Setting("payment_share", "share", None, "Payment fee as a share of what the buyer pays."),
                Setting("payment_fixed", "money", None, "Payment fee for each sale."),
            ),
        ),
        SettingsTable(
            "tax_rate",
            "tax_rates",
            "A rate of tax on sales, by date: it fills only what no file states. Your tax office says which is yours.",
            (
                Setting(
                    "regime", "choice", "vat", "The regime that it is of.", choices=("sales tax", "vat", "flat rate")
                ),
                Setting(
                    "category", "text", None, "A product, or a category of material sold as such; else all the rest."
                ),
            ),
            "rates",
            (Setting("rate", "share", Decimal(0), "Tax as a share of the price before tax: 0.21 is 21 %."),),
        ),
        SettingsTable(
            "operation",
            "operations",
            "An operation: what kind of work, and how shared hours go over the pieces named.",
            (
                _name("As it stands in the hours."),
                Setting(
                    "kind",
                    "choice",
                    "bench",
                    "Bench work makes pieces; shop work and selling do not.",
                    choices=("bench", "shop", "selling"),
                ),
                Setting(
                    "driver",
                    "choice",
                    "equal",
                    "How a shared row goes over its pieces; `equal`, or `units`, is by units, where a piece is a run.",
                    choices=("area", "volume", "equal", "units"),
                ),
            ),
        ),
        SettingsTable(
            "item",
            "items",
            "What is known of an item bought.",
            (
                _name("As it stands in purchases and pours."),
                Setting("category", "choice", None, "Its category, where a row names none.", choices=()),
                Setting(
                    "base_unit",
                    "choice",
                    None,
                    "Unit the item is kept in.",
                    choices=("mg", "ul", "um", "mm2", "mm3", "each"),
                ),
                Setting("density", "density", None, "Grams in a millilitre, mixed (data sheet)."),
                Setting("density_a", "density", None, "Grams in a millilitre of part A (data sheet)."),
                Setting("density_b", "density", None, "Grams in a millilitre of part B (data sheet)."),
                Setting("parts_a", "number", 1.0, "Parts of A in the mix (data sheet)."),
                Setting("parts_b", "number", 1.0, "Parts of B in the mix (data sheet)."),
                Setting(
                    "parts_by",
                    "choice",
                    "volume",
                    "What the parts are of; the two differ as A is heavier than B.",
                    choices=("volume", "weight"),
                ),
                Setting(
                    "kit", "millilitres", None, "Millilitres of mix in a kit, or in one of what is bought by the set."
                ),
                Setting("kit_weight", "grams", None, "Grams of mix in a kit, where its label tells a weight."),
                Setting("shelf_months", "count", None, "Months it keeps (data sheet)."),
                Setting(
                    "driver",
                    "choice",
                    None,
                    "How a use goes over its pieces: finishes and abrasives by surface, anything else by units.",
                    choices=("area", "volume", "units"),
                ),
            ),
        ),
        SettingsTable(
            "price_list",
            "price_list",
            "What an item or a species of wood costs by a current price list; a quote uses it until a later receipt.",
            (
                _name("An item as it stands in purchases, or a species of wood."),
                Setting("unit", "choice", "each", "What the price is for.", choices=PRICED_BY),
            ),
            "prices",
            (
                Setting("price", "money", None, "Price of `quantity` such units, with freight if there is any.", True),
                Setting("quantity", "number", 1.0, "How many of the unit the price is for."),
            ),
        ),
        SettingsTable(
            "event",
            "events",
            "A market or fair.",
            (
                _name("As it stands in sales, hours and purchases."),
                Setting("day", "date", None, "Its day; the first one, if it has several."),
                Setting("fee", "money", 0, "Its booth fee, where no receipt holds it."),
            ),
        ),
        SettingsTable(
            "purpose",
            "purposes",
            "What a pour of a purpose should leave on a piece; without it the shop's own weighed pours say so.",
            (
                Setting(
                    "name",
                    "choice",
                    None,
                    "As it stands in the pours.",
                    required=True,
                    choices=("seal", "inlay", "casting", "flood", "repour"),
                ),
                Setting("thickness_mm", "number", None, "How thick; a casting goes through the piece without it."),
                Setting("share", "share", Decimal(1), "Part of the piece's top that it covers: a river's, an inlay's."),
            ),
        ),
        SettingsTable(
            "measure",
            "measures",
            "How far a kind of figure may be off (its standard error); a usual value stands in for what is not set.",
            (
                Setting(
                    "name",
                    "choice",
                    None,
                    "The kind of figure.",
                    required=True,
                    choices=MEASURES,
                ),
                Setting("share", "number", None, "Off by this share of the figure, all of its kind alike."),
                Setting("grams", "number", None, "And by so many grams at each reading."),
            ),
        ),
        SettingsTable(
            "change",
            "changes",
            "A change in the shop, to be compared before and after.",
            (_name("What changed."), Setting("day", "date", None, "The day it changed.", required=True)),
        ),
        SettingsTable(
            "goal",
            "goal",
            "What you want of a year; the page of the year says how likely it still is.",
            (
                Setting("year", "count", None, "The calendar year.", required=True),
                Setting("result", "money", None, "Result of the year, with your own pay as a cost."),
                Setting("pay", "rate", None, "What an hour of yours shall have paid, all hours of the year together."),
                Setting("pieces", "count", None, "Units to be handed over in the year."),
            ),
        ),
    )
}

USUAL_OPERATIONS: tuple[tuple[str, str, str], ...] = (
    # name, kind, driver of shared hours: volume for sawing and surfacing, area for sanding and finishing
    ("design", "bench", "equal"),
    ("sawing", "bench", "volume"),
    ("surfacing", "bench", "volume"),
    ("carving", "bench", "equal"),
    ("gluing", "bench", "equal"),
    ("pouring", "bench", "equal"),
    ("sanding", "bench", "area"),
    ("finishing", "bench", "area"),
    ("assembly", "bench", "equal"),
    ("inspection", "bench", "equal"),
    ("packing", "selling", "equal"),
    ("cleaning", "shop", "equal"),
    ("office", "shop", "equal"),
    ("buying", "shop", "equal"),
    ("market", "selling", "equal"),
    ("posts", "selling", "equal"),
)
