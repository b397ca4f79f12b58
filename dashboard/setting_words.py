"""How the settings are called on their page: its folds, what each setting is labelled, and what stands beside it."""

from dataclasses import dataclass

from pipeline.pages import shop_settings
from pipeline.pages.shop_settings import Setting


@dataclass(frozen=True)
class Section:
    """A fold of the page: its part of the address, its title, the table of settings in it, what one of them is."""

    key: str
    title: str
    table: str
    thing: str
    mind: str = ""


SECTIONS = (
    Section("pay", "People and pay", "person_rate", "person"),
    Section("overhead", "Rent and power", "pool", "pool"),
    Section("machines", "Machines", "machine", "machine"),
    Section("resin", "Resin, kits and other items", "item", "item", "A product's own data sheet decides its figures."),
    Section("fees", "Channels and fees", "channel", "channel"),
    Section("price-list", "Current prices of materials", "price_list", "item"),
    Section("tax-rates", "Rates of tax on sales", "tax_rate", "rate", "Your tax office says which rate is yours."),
    Section("rules", "Tax, scrap and what is flagged", "rule", "rule", "Your tax office says which regime is yours."),
    Section("work", "Kinds of work", "operation", "operation"),
    Section("markets", "Markets and fairs", "event", "market"),
    Section("pours", "What a pour should leave", "purpose", "purpose"),
    Section("weighing", "How far a weighing may be off", "measure", "kind"),
    Section("changes", "Changes in the shop", "change", "change"),
    Section("goals", "Goals of a year", "goal", "goal"),
    Section("shop", "The shop itself", "shop", "shop"),
)

TAUGHT = "taught-words"
"""The fold of the words taught."""

LABELS = {
    ("person_rate", "rate"): "Pay for one hour",
    ("person_rate", "paid"): "Are the hours paid out?",
    ("machine", "bought"): "Put to use on",
    ("machine", "cost"): "What it cost",
    ("machine", "salvage"): "What it will bring in the end",
    ("machine", "months"): "Months it will serve",
    ("machine", "rate"): "Cost of one hour",
    ("pool", "source"): "Where its cost comes from",
    ("pool", "driver"): "A piece's share goes by",
    ("pool", "basis"): "Rate by the last months, or as budgeted",
    ("pool", "operations"): "Shop work whose pay is in it",
    ("pool", "amount"): "Cost of one month",
    ("pool", "rate"): "Budgeted rate",
    ("channel", "tax_by"): "Who pays the tax on",
    ("channel", "prices_hold_tax"): "Do its prices hold the tax?",
    ("channel", "share"): "Fee, per cent of the price",
    ("channel", "fixed"): "Fee for each sale",
    ("channel", "payment_share"): "Payment fee, per cent",
    ("channel", "payment_fixed"): "Payment fee for each sale",
    ("tax_rate", "rate"): "Tax, per cent of the price before tax",
    ("tax_rate", "category"): "For which product or material",
    ("rule", "tax_reclaimable"): "Does tax on purchases come back?",
    ("rule", "flat_rate"): "Flat rate, per cent of what buyers pay",
    ("rule", "normal_scrap"): "Usual scrap, per cent of good work",
    ("rule", "normal_rework"): "Usual rework, per cent of good work",
    ("rule", "mix_tolerance"): "A mix may be off by",
    ("rule", "stir_minutes"): "Stir for at least, minutes",
    ("rule", "cure_hours"): "Leave alone for, hours",
    ("rule", "cold_c"): "Room at least, °C",
    ("rule", "damp_pct"): "Damp at most, %",
    ("rule", "wet_wood_pct"): "Moisture of wood at most, %",
    ("item", "base_unit"): "Kept in",
    ("item", "density"): "Grams in a millilitre, mixed",
    ("item", "density_a"): "Grams in a millilitre, part A",
    ("item", "density_b"): "Grams in a millilitre, part B",
    ("item", "parts_a"): "Parts of A",
    ("item", "parts_b"): "Parts of B",
    ("item", "parts_by"): "Parts by volume or weight",
    ("item", "kit"): "Millilitres of mix in a kit",
    ("item", "kit_weight"): "Grams of mix in a kit",
    ("item", "shelf_months"): "Months it keeps",
    ("item", "driver"): "A use goes over its pieces by",
    ("price_list", "unit"): "Price is for",
    ("price_list", "quantity"): "So many of them",
    ("operation", "kind"): "Kind of work",
    ("operation", "driver"): "Shared hours go by",
    ("event", "fee"): "Booth fee",
    ("purpose", "thickness_mm"): "Thickness, mm",
    ("purpose", "share"): "Part of the top that it covers",
    ("measure", "share"): "Off by this part of the figure",
    ("measure", "grams"): "And by grams at each reading",
    ("goal", "result"): "Result of the year",
    ("goal", "pay"): "What an hour shall have paid",
    ("goal", "pieces"): "Units to be handed over",
    ("shop", "sizes_in"): "Bare sizes are in",
    ("shop", "start"): "Records begin on",
    ("shop", "opening_cash"): "Cash on that day",
    ("shop", "opening_tax_owed"): "Tax owed on that day",
    ("shop", "opening_deposits"): "Deposits held on that day",
    ("shop", "cost_flow"): "A use draws on",
    ("shop", "late_receipt_days"): "Days that a receipt may be late",
    ("shop", "scrap_circle"): "Who carries usual scrap",
    ("shop", "quote_days"): "Days that a quote holds",
    ("shop", "deposit"): "Deposit, per cent of the price",
    ("shop", "quote_terms"): "Your terms on a quote",
    ("shop", "kerf_mm"): "Width of the saw's cut, mm",
}
"""What a setting is called where its own name says too little."""


def label(table: str, setting: Setting) -> str:
    """What a setting is called in a form and over a table."""
    named = LABELS.get((table, setting.name)) or setting.name.replace("_", " ").capitalize()
    return f"{named} (needed)" if setting.required else named


def usual(setting: Setting, minor: int) -> str:
    """What stands in a field that says nothing: what holds then."""
    if setting.default in (None, ""):
        return ""
    return f"Usual: {shop_settings.as_typed(setting, setting.default, minor)}"
