"""Bank statements as ISO 20022 camt.053 (any version): each booked entry is a payment, a minus going out.

Source of the names: ISO 20022, BankToCustomerStatement (camt.053.001). An entry's direction is its own indicator
(`CdtDbtInd`), of a reversal too. The parties of a transaction are never read: they name buyers. An entry whose amount
or direction can't be read keeps what stands there, for cleaning to set that row aside with its place.
"""

from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

from pipeline.errors import UserError
from pipeline.readers.reader_output import TextTable, frame_of, ignored_of
from pipeline.readers.xml_tree import Element

NAMES = ("date", "amount", "receipt", "balance", "note")
RECORD = "payments"
PENDING = "not booked yet"
_BOOKED = ("", "BOOK")
_WAYS = {"CRDT": 1, "DBIT": -1}
_OPENS, _CLOSES = ("OPBD", "PRCD"), ("CLBD",)
_ASK = "Ask the bank for the statement (camt.053)."

Row = tuple[int, Decimal | None, list[str]]
"""Line, signed amount where it can be read, cells."""


def tables(root: Element, path: Path, own_name: str = "") -> list[TextTable]:
    """The payments of a statement file: one table for each account."""
    statements = list(root.all("BkToCstmrStmt/Stmt"))
    if not statements:
        held = ", ".join(child.name for child in root.children)[:60]
        raise UserError(f"The XML file holds no bank statement, but {held or 'nothing'}.", str(path), _ASK)
    accounts: dict[str, list[Element]] = {}
    for statement in statements:
        accounts.setdefault(_account(statement), []).append(statement)
    named = [f"account {at}" if len(accounts) > 1 else "" for at in range(1, len(accounts) + 1)]
    return [_table(name, held) for name, held in zip(named, accounts.values(), strict=True)]


def _account(statement: Element) -> str:
    return statement.said("Acct/Id/IBAN", "Acct/Id/Othr/Id") + statement.said("Acct/Ccy")


def _table(sheet: str, statements: list[Element]) -> TextTable:
    rows: list[Row] = []
    ignored: list[tuple[int, str, str]] = []
    for statement in statements:
        own = [row for entry in statement.all("Ntry") if _is_booked(entry) for row in _rows(entry)]
        rows += _with_balances(own, statement)
        ignored += [
            (e.line, PENDING, _day(e) + " " + e.said("Amt")) for e in statement.all("Ntry") if not _is_booked(e)
        ]
    frame = frame_of([cells for _, _, cells in rows], [line for line, _, _ in rows], len(NAMES))
    dialect: dict[str, object] = {"kind": "camt.053", "record": RECORD, "header": [list(NAMES)]}
    return TextTable(sheet, NAMES, frame, ignored_of(ignored), dialect)


def _is_booked(entry: Element) -> bool:
    return entry.said("Sts/Cd", "Sts") in _BOOKED


def _rows(entry: Element) -> Iterator[Row]:
    """An entry as one row, or as one for each of the transactions in it where these come to the same."""
    day, whole, currency = _day(entry), _signed(entry), _currency(entry)
    parts = list(entry.all("NtryDtls/TxDtls"))
    signed = [(part, _signed(part, otherwise=entry)) for part in parts] if len(parts) > 1 else []
    known = [value for part, value in signed if value is not None and _currency(part) == currency]
    if signed and len(known) == len(parts) and sum(known) == whole:
        for (part, _), value in zip(signed, known, strict=True):
            yield part.line, value, [day, _money(value, currency), _paid(part), "", _note(part, entry)]
        return
    told = parts[0] if len(parts) == 1 else entry
    amount = _as_written(entry) if whole is None else _money(whole, currency)
    yield entry.line, whole, [day, amount, _paid(told), "", _note(told, entry)]


def _with_balances(rows: list[Row], statement: Element) -> Iterator[Row]:
    """The rows with the balance of the account after each: from the statement's opening, and at its end its closing,
    so that an entry that lacks is seen where cash is proved. None runs past an entry whose amount can't be read."""
    if rows and rows[0][2][0] > rows[-1][2][0]:  # the newest first
        rows = rows[::-1]
    balances = {said.said("Tp/CdOrPrtry/Cd"): said for said in statement.all("Bal")}
    opening = next((balances[code] for code in _OPENS if code in balances), None)
    closing = next((balances[code] for code in _CLOSES if code in balances), None)
    running = _signed(opening) if opening else None
    last = _signed(closing) if closing else None
    for at, (line, value, cells) in enumerate(rows, 1):
        running = None if running is None or value is None else running + value
        if running is not None and opening:
            cells[3] = _money(running, _currency(opening))
        if closing and last is not None and at == len(rows):
            cells[3] = _money(last, _currency(closing))
        yield line, value, cells


def _day(entry: Element) -> str:
    return entry.said("BookgDt/Dt", "BookgDt/DtTm", "ValDt/Dt", "ValDt/DtTm")[:10]


def _signed(element: Element, otherwise: Element | None = None) -> Decimal | None:
    """The amount of an element, a minus going out; None where it has none that can be read, or says neither in nor
    out, itself or as a part of `otherwise`."""
    found = element.first("Amt", "AmtDtls/TxAmt/Amt")
    said = element.said("CdtDbtInd") or (otherwise.said("CdtDbtInd") if otherwise else "")
    if not found or found.number is None or said not in _WAYS:
        return None
    return _WAYS[said] * found.number


def _as_written(entry: Element) -> str:
    """What stands where an entry's amount should, such that nobody takes it for one: its direction would be lost."""
    said = entry.said("Amt", "AmtDtls/TxAmt/Amt")
    if not said:
        return ""
    lacks = "no number" if entry.said("CdtDbtInd") in _WAYS else "neither in nor out"
    return f"{_currency(entry)} {said}, {lacks}".strip()


def _currency(element: Element) -> str:
    found = element.first("Amt", "AmtDtls/TxAmt/Amt")
    return found.attributes.get("Ccy", "") if found else ""


def _money(value: Decimal, currency: str) -> str:
    return f"{currency} {value:f}".strip()


def _paid(element: Element) -> str:
    """The number of the invoice that is paid, where the transaction names one alone."""
    named = {" ".join(found.text.split()) for found in _told(element, "RmtInf/Strd/RfrdDocInf/Nb")} - {""}
    return named.pop() if len(named) == 1 else ""


def _note(element: Element, entry: Element) -> str:
    """What the transaction says of itself: free text, reference, and what the bank adds."""
    places = ("RmtInf/Ustrd", "RmtInf/Strd/CdtrRefInf/Ref", "RmtInf/Strd/AddtlRmtInf", "AddtlTxInf")
    said = [found.text for place in places for found in _told(element, place)] + [entry.said("AddtlNtryInf")]
    return " · ".join(dict.fromkeys(filter(None, (" ".join(text.split()) for text in said))))


def _told(element: Element, place: str) -> Iterator[Element]:
    """The elements at a place of a transaction, or of all transactions of an entry."""
    of_entry = element.name == "Ntry"
    yield from element.all(f"NtryDtls/TxDtls/{place}" if of_entry else place)
