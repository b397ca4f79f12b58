"""The files of the pile. One entry here is one file, or one sheet of a workbook."""

from datetime import date

from sample_data.paper import END_24, END_25, NEW_YEAR_25, NEW_YEAR_26, Paper, headers, same
from sample_data.papers_bench import HOURS, PIECES, POURS

RECEIPTS = (
    Paper(
        "receipts/receipts-2023-24.csv",
        "purchases",
        headers(
            "date: Date | receipt: Receipt no. | supplier: Shop | item: What | category: Kind | "
            "quantity: How much | amount: Net $ | tax: Sales tax | freight: Freight | discount: Discount | "
            "total: Receipt total | lot: Tag | species: Wood | length: L in | width: W in | thickness: Th | "
            "diameter: Dia in | moisture: MC % | count: Slabs | expires: Use by | machine: Machine | "
            "event: Market | pool: Goes to | covers: Months | returns: Back | note: Remarks"
        ),
        last=END_24,
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
        headers(
            "date: Bought on | receipt: Slip | supplier: From | item: Article | category: Use | "
            "quantity: Qty | unit: Unit | amount: Price w/o tax | tax: Tax | freight: Delivery | "
            "discount: Rebate | total: Sum of slip | lot: Lot | species: Species | length: Length cm | "
            "width: Width cm | thickness: Thickness mm | diameter: Across cm | moisture: Moisture | "
            "count: Pieces | expires: Keeps until | machine: Machine | event: Fair | pool: Pool | "
            "covers: Months covered | returns: Returned lot | note: Note"
        ),
        first=NEW_YEAR_25,
        last=END_25,
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
        same(
            "date receipt supplier item category quantity amount tax freight discount total lot species "
            "length width thickness diameter moisture count expires machine event pool covers returns note"
        ),
        first=NEW_YEAR_26,
        length="mm in cell",
        canonical=True,
        broken=(({"date": "2026-02-30"}, "date"), ({"covers": "twelve or so"}, "count")),
    ),
)

SHORT_LISTS = (
    Paper(
        "usage/used.tsv",
        "usage",
        headers("date: When | item: Item | quantity: Amount | lot: Lot | pieces: For | note: Note"),
        delimiter="\t",
        broken=(({"quantity": "some"}, "quantity"),),
    ),
    Paper(
        "inspections/looks.csv",
        "inspections",
        headers(
            "date: Date | piece: Piece | defect: Found | found_at: At | action: Then | quantity: Units | note: Note"
        ),
        broken=(({"action": "sigh"}, "choice"),),
    ),
    Paper(
        "orders/orders.csv",
        "orders",
        same("order_no date channel product price due cancelled note"),
        canonical=True,
    ),
    Paper(
        "payments/payments.csv",
        "payments",
        same("date kind amount order_no event note"),
        canonical=True,
        broken=(({"kind": "swap"}, "choice"),),
    ),
    Paper("moves/moves.csv", "moves", same("date pieces place note"), canonical=True),
    Paper(
        "counts/counts.csv",
        "counts",
        same("date item category lot species quantity worth cause note"),
        canonical=True,
        broken=(({"quantity": ""}, "missing"),),
    ),
)

_TILL = headers("date: Date | event: Market | piece: Tag | product: Article | quantity: Qty | price: Price incl. tax")
_TILL |= {"sales_tax": "Tax in it", "payment_fee": "Card fee", "returned_to": "Back to", "note": "Slip"}
_ONLINE = headers(
    "date: Shipped | order_no: Sale no. | _buyer: Buyer name | piece: SKU | product: Listing | quantity: Units"
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
        last=END_24,
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
        first=NEW_YEAR_25,
        last=END_25,
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
        first=NEW_YEAR_26,
        channels=("market",),
        tax_included=True,
        constants={"channel": "market"},
    ),
    Paper(
        "sales/online-2023-24.csv",
        "sales",
        _ONLINE,
        last=END_24,
        channels=("online",),
        constants={"channel": "online"},
        money="$",
    ),
    Paper(
        "sales/online-2025-first-half.csv",
        "sales",
        _ONLINE,
        NEW_YEAR_25,
        date(2025, 6, 30),
        ("online",),
        constants={"channel": "online"},
    ),
    Paper(
        "sales/online-2025-rest.csv",
        "sales",
        _ONLINE,
        date(2025, 5, 15),
        END_25,
        ("online",),
        constants={"channel": "online"},
    ),
    Paper(
        "sales/online-2026-a.csv",
        "sales",
        _ONLINE,
        NEW_YEAR_26,
        channels=("online",),
        constants={"channel": "online"},
        supersedes=("order_no", "quantity"),
    ),
    Paper(
        "sales/online-2026-b-corrected.csv",
        "sales",
        _ONLINE,
        NEW_YEAR_26,
        channels=("online",),
        constants={"channel": "online"},
        supersedes=("order_no", "quantity"),
    ),
    Paper(
        "sales/by-hand.csv",
        "sales",
        same("date order_no channel piece product quantity price discount sales_tax channel_fee note"),
        channels=("commission", "gallery"),
        canonical=True,
    ),
)

PAPERS = (*RECEIPTS, *PIECES, *HOURS, *POURS, *SHORT_LISTS, *SALES)
