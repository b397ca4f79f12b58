"""Invoices and credit notes as UBL 2.1 or UN/CEFACT CII, the two syntaxes of EN 16931: each line is a purchase.

Source of the names: OASIS UBL 2.1 (Invoice, CreditNote); UN/CEFACT Cross Industry Invoice D16B; EN 16931-1, whose
business terms (BT) stand beside the paths. An invoice that the shop itself wrote is a sale. Of buyers nothing is read.
"""

from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

from pipeline.errors import UserError
from pipeline.readers.reader_output import TextTable, frame_of, ignored_of
from pipeline.readers.xml_tree import Element

BOUGHT = (
    *("date", "receipt", "supplier", "item", "quantity", "unit", "amount", "tax", "freight", "discount", "total"),
    *("paid_currency", "note"),
)
SOLD = (
    "date",
    "order_no",
    "channel",
    "product",
    "quantity",
    "price",
    "discount",
    "shipping_charged",
    "sales_tax",
    "note",
)

CHANNEL = "invoice"
"""The channel of what the shop sold by an invoice of its own."""

_CREDIT_NOTES = ("381", "396", "81", "83")
"""Codes of a document that gives money back (UNTDID 1001, as EN 16931 lists them)."""
_IN_ADVANCE = ("386",)
IN_ADVANCE = "a bill of money in advance: the invoice itself follows"
_ANEW = "Ask who wrote it for the invoice anew."


@dataclass(frozen=True)
class _Syntax:
    """Where each business term stands, from the root or from a line; several paths are tried in turn."""

    number: tuple[str, ...]
    day: tuple[str, ...]
    kind: tuple[str, ...]
    currency: tuple[str, ...]
    seller: tuple[str, ...]
    order: tuple[str, ...]
    line: tuple[str, ...]
    item: tuple[str, ...]
    quantity: tuple[str, ...]
    amount: tuple[str, ...]
    percent: tuple[str, ...]
    tax: tuple[str, ...]
    total: tuple[str, ...]
    allowance: tuple[str, ...]
    is_charge: tuple[str, ...]
    allowed: tuple[str, ...]


_UBL = _Syntax(
    number=("ID",),  # BT-1
    day=("IssueDate",),  # BT-2
    kind=("InvoiceTypeCode", "CreditNoteTypeCode"),  # BT-3
    currency=("DocumentCurrencyCode",),  # BT-5
    seller=(  # BT-28, BT-27
        "AccountingSupplierParty/Party/PartyName/Name",
        "AccountingSupplierParty/Party/PartyLegalEntity/RegistrationName",
    ),
    order=("OrderReference/ID",),  # BT-13
    line=("InvoiceLine", "CreditNoteLine"),  # BG-25
    item=("Item/Name", "Item/Description"),  # BT-153, BT-154
    quantity=("InvoicedQuantity", "CreditedQuantity"),  # BT-129
    amount=("LineExtensionAmount",),  # BT-131
    percent=("Item/ClassifiedTaxCategory/Percent",),  # BT-152
    tax=("TaxTotal/TaxAmount",),  # BT-110
    total=("LegalMonetaryTotal/TaxInclusiveAmount",),  # BT-112
    allowance=("AllowanceCharge",),  # BG-20, BG-21
    is_charge=("ChargeIndicator",),
    allowed=("Amount",),  # BT-92, BT-99
)

_TRADE = "SupplyChainTradeTransaction"
_SETTLED = f"{_TRADE}/ApplicableHeaderTradeSettlement"
_SUMS = f"{_SETTLED}/SpecifiedTradeSettlementHeaderMonetarySummation"
_LINE_SETTLED = "SpecifiedLineTradeSettlement"

_CII = _Syntax(
    number=("ExchangedDocument/ID",),
    day=("ExchangedDocument/IssueDateTime/DateTimeString",),
    kind=("ExchangedDocument/TypeCode",),
    currency=(f"{_SETTLED}/InvoiceCurrencyCode",),
    seller=(
        f"{_TRADE}/ApplicableHeaderTradeAgreement/SellerTradeParty/SpecifiedLegalOrganization/TradingBusinessName",
        f"{_TRADE}/ApplicableHeaderTradeAgreement/SellerTradeParty/Name",
    ),
    order=(f"{_TRADE}/ApplicableHeaderTradeAgreement/BuyerOrderReferencedDocument/IssuerAssignedID",),
    line=(f"{_TRADE}/IncludedSupplyChainTradeLineItem",),
    item=("SpecifiedTradeProduct/Name", "SpecifiedTradeProduct/Description"),
    quantity=("SpecifiedLineTradeDelivery/BilledQuantity",),
    amount=(f"{_LINE_SETTLED}/SpecifiedTradeSettlementLineMonetarySummation/LineTotalAmount",),
    percent=(f"{_LINE_SETTLED}/ApplicableTradeTax/RateApplicablePercent",),
    tax=(f"{_SUMS}/TaxTotalAmount",),
    total=(f"{_SUMS}/GrandTotalAmount",),
    allowance=(f"{_SETTLED}/SpecifiedTradeAllowanceCharge",),
    is_charge=("ChargeIndicator/Indicator",),
    allowed=("ActualAmount",),
)


def of_ubl(root: Element, path: Path, own_name: str = "") -> list[TextTable]:
    """The lines of a UBL invoice or credit note."""
    return [_Document(root, _UBL, path, root.name == "CreditNote").table(own_name)]


def of_cii(root: Element, path: Path, own_name: str = "") -> list[TextTable]:
    """The lines of a Cross Industry Invoice."""
    return [_Document(root, _CII, path).table(own_name)]


@dataclass(frozen=True)
class _Document:
    """An invoice in one of the syntaxes."""

    root: Element
    syntax: _Syntax
    path: Path
    returns: bool = False

    def table(self, own_name: str) -> TextTable:
        is_own = bool(own_name) and _bare(own_name) == _bare(self.said("seller"))
        names, record = (SOLD, "sales") if is_own else (BOUGHT, "purchases")
        dialect: dict[str, object] = {"kind": "invoice", "record": record, "header": [list(names)]}
        if self.said("kind") in _IN_ADVANCE:
            told = [(self.root.line, IN_ADVANCE, self.said("number"))]
            return TextTable("", names, frame_of([], [], len(names)), ignored_of(told), dialect)
        lines = [line for each in self.syntax.line for line in self.root.all(each)]
        if not lines:
            raise UserError("The invoice has no lines.", str(self.path), _ANEW)
        rows = self._sold(lines) if is_own else self._bought(lines)
        cells = [[row.get(name, "") for name in names] for row in rows]
        return TextTable("", names, frame_of(cells, [line.line for line in lines], len(names)), ignored_of([]), dialect)

    def said(self, term: str, element: Element | None = None) -> str:
        return (element or self.root).said(*getattr(self.syntax, term))

    def _bought(self, lines: list[Element]) -> list[dict[str, str]]:
        sign, allowances = self._sign(), self._allowances()
        rows = [
            {
                "date": self._day(),
                "receipt": self.said("number"),
                "supplier": self.said("seller"),
                "item": self.said("item", line),
                "quantity": _written(self._number("quantity", line), sign),
                "unit": self._unit(line),
                "amount": f"{sign * self._amount(line):f}",
                "paid_currency": self.said("currency"),
            }
            for line in lines
        ]
        # of the whole document: on one of its rows, the dearest
        dearest = max(range(len(lines)), key=lambda at: abs(self._amount(lines[at])))
        whole: dict[str, Decimal | None] = {"tax": self._tax(), "total": self._number("total", self.root)}
        whole |= {"freight": allowances[True], "discount": allowances[False]}
        rows[dearest] |= {name: _written(value, sign) for name, value in whole.items() if value}
        return rows

    def _sold(self, lines: list[Element]) -> list[dict[str, str]]:
        sign, allowances = self._sign(), self._allowances()
        amounts = [self._amount(line) for line in lines]
        taxes = self._taxes(lines, amounts)
        rows = []
        for line, amount, tax in zip(lines, amounts, taxes, strict=True):
            count = self._number("quantity", line) or Decimal(1)
            if count != count.to_integral_value() or not count:
                count = Decimal(1)
            back, count, amount = amount < 0, abs(count), abs(amount)
            each = (amount / count).quantize(Decimal("0.01"))
            if each * count < amount:
                each += Decimal("0.01")
            rows.append(
                {
                    "date": self._day(),
                    "order_no": self.said("order") or self.said("number"),
                    "channel": CHANNEL,
                    "product": self.said("item", line),
                    "quantity": _written(count, -sign if back else sign),
                    "price": f"{each:f}",
                    "discount": _written(each * count - amount, 1),
                    "sales_tax": _written(tax, sign),
                    "note": self.said("number"),
                }
            )
        dearest = max(range(len(rows)), key=lambda at: abs(amounts[at]))
        less = Decimal(rows[dearest]["discount"] or 0) + allowances[False]
        rows[dearest] |= {"discount": _written(less, 1), "shipping_charged": _written(allowances[True], sign)}
        return rows

    def _taxes(self, lines: list[Element], amounts: list[Decimal]) -> list[Decimal]:
        """The document's tax, line by line after the lines' own rates; what their roundings leave is on the dearest."""
        rates = [Decimal(self._number("percent", line) or 0) / 100 for line in lines]
        found = [(amount * rate).quantize(Decimal("0.01")) for amount, rate in zip(amounts, rates, strict=True)]
        dearest = max(range(len(found)), key=lambda at: abs(amounts[at]))
        found[dearest] += (self._tax() or sum(found, Decimal(0))) - sum(found, Decimal(0))
        return found

    def _sign(self) -> int:
        """What turns the document's figures into ours: a credit note is written with a plus, as a rule."""
        gives_back = self.returns or self.said("kind") in _CREDIT_NOTES
        total = self._number("total", self.root) or Decimal(0)
        return -1 if gives_back and total >= 0 else 1

    def _day(self) -> str:
        day = self.said("day")
        # format 102 of UNTDID 2379: 20260831
        return f"{day[:4]}-{day[4:6]}-{day[6:]}" if len(day) == 8 and day.isdigit() else day

    def _unit(self, line: Element) -> str:
        found = line.first(*self.syntax.quantity)
        return found.attributes.get("unitCode", "") if found else ""

    def _tax(self) -> Decimal:
        """The tax in the invoice's currency: it may be told in another one too."""
        found = [each for place in self.syntax.tax for each in self.root.all(place)]
        own = [each for each in found if each.attributes.get("currencyID", "") == self.said("currency")] or found[:1]
        return sum((self._value(each) for each in own[:1]), Decimal(0))

    def _allowances(self) -> dict[bool, Decimal]:
        """What the document adds to its lines (True: freight, packing), and takes off them (False)."""
        found = {True: Decimal(0), False: Decimal(0)}
        for place in self.syntax.allowance:
            for each in self.root.all(place):
                found[self.said("is_charge", each).lower() in ("true", "1")] += self._number("allowed", each) or 0
        return found

    def _amount(self, line: Element) -> Decimal:
        found = self._number("amount", line)
        if found is None:
            raise UserError("A line of the invoice has no amount.", f"{self.path}, line {line.line}", _ANEW)
        return found

    def _number(self, term: str, element: Element) -> Decimal | None:
        found = element.first(*getattr(self.syntax, term))
        return self._value(found) if found else None

    def _value(self, element: Element) -> Decimal:
        value = element.number
        if value is None:
            raise UserError("A figure of the invoice can't be read.", f"{self.path}, line {element.line}", _ANEW)
        return value


def _written(value: Decimal | None, sign: int) -> str:
    return f"{sign * value:f}" if value else ""


def _bare(name: str) -> str:
    return " ".join(name.casefold().split())
