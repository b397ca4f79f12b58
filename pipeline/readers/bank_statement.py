"""Bank statements as ISO 20022 camt.053 (any version): each booked entry is a payment, a minus going out.

Source of the names: ISO 20022, BankToCustomerStatement (camt.053.001). An entry's direction is its own indicator
(`CdtDbtInd`), of a reversal too. The parties of a transaction are never read: they name buyers.
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
_OPENS, _CLOSES = ("OPBD", "PRCD"), ("CLBD",)
_ASK = "Ask the bank for the statement (camt.053)."

Row = tuple[int, list[str]]


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
    return [_table(name, held, path) for name, held in zip(named, accounts.values(), strict=True)]


def _account(statement: Element) -> str:
    return statement.said("Acct/Id/IBAN", "Acct/Id/Othr/Id") + statement.said("Acct/Ccy")


def _table(sheet: str, statements: list[Element], path: Path) -> TextTable:
    rows: list[Row] = []
    ignored: list[tuple[int, str, str]] = []
    for statement in statements:
        own = [row for entry in statement.all("Ntry") if _is_booked(entry) for row in _rows(entry, path)]
        rows += _with_balances(own, statement, path)
        ignored += [
            (e.line, PENDING, _day(e) + " " + e.said("Amt")) for e in statement.all("Ntry") if not _is_booked(e)
        ]
    frame = frame_of([cells for _, cells in rows], [line for line, _ in rows], len(NAMES))
    dialect: dict[str, object] = {"kind": "camt.053", "record": RECORD, "header": [list(NAMES)]}
    return TextTable(sheet, NAMES, frame, ignored_of(ignored), dialect)


def _is_booked(entry: Element) -> bool:
    return entry.said("Sts/Cd", "Sts") in _BOOKED


def _rows(entry: Element, path: Path) -> Iterator[Row]:
    """An entry as one row, or as one for each of the transactions in it where these come to the same."""
    day, way, whole = _day(entry), _way(entry, path), _amount(entry, path)
    parts = list(entry.all("NtryDtls/TxDtls"))
    several = len(parts) > 1 and all(part.first("Amt", "AmtDtls/TxAmt/Amt") for part in parts)
    signed = [(part, _way(part, path, way) * _amount(part, path)) for part in parts] if several else []
    if several and sum(cents for _, cents in signed) == way * whole:
        currency = _currency(entry)
        same = all(_currency(part) == currency for part, _ in signed)
        if same:
            yield from (
                (part.line, [day, _money(cents, currency), _paid(part), "", _note(part, entry)])
                for part, cents in signed
            )
            return
    told = parts[0] if len(parts) == 1 else entry
    yield entry.line, [day, _money(way * whole, _currency(entry)), _paid(told), "", _note(told, entry)]


def _with_balances(rows: list[Row], statement: Element, path: Path) -> Iterator[Row]:
    """The rows with the balance of the account after each: from the statement's opening, and at its end its closing,
    so that an entry that lacks is seen where cash is proved."""
    if rows and rows[0][1][0] > rows[-1][1][0]:  # the newest first
        rows = rows[::-1]
    balances = {said.said("Tp/CdOrPrtry/Cd"): said for said in statement.all("Bal")}
    opening = next((balances[code] for code in _OPENS if code in balances), None)
    closing = next((balances[code] for code in _CLOSES if code in balances), None)
    running = _way(opening, path) * _amount(opening, path) if opening else None
    for at, (line, cells) in enumerate(rows, 1):
        if running is not None:
            running += Decimal(cells[1].rpartition(" ")[2])
            cells[3] = _money(running, cells[1].partition(" ")[0])
        if closing and at == len(rows):
            cells[3] = _money(_way(closing, path) * _amount(closing, path), _currency(closing))
        yield line, cells


def _day(entry: Element) -> str:
    return entry.said("BookgDt/Dt", "BookgDt/DtTm", "ValDt/Dt", "ValDt/DtTm")[:10]


def _way(element: Element, path: Path, otherwise: int = 0) -> int:
    said = element.said("CdtDbtInd")
    if not said and otherwise:
        return otherwise
    if said not in ("CRDT", "DBIT"):
        raise UserError("An entry of the statement says neither in nor out.", f"{path}, line {element.line}", _ASK)
    return 1 if said == "CRDT" else -1


def _amount(element: Element, path: Path) -> Decimal:
    found = element.first("Amt", "AmtDtls/TxAmt/Amt")
    value = found.number if found else None
    if value is None:
        raise UserError("An entry of the statement has no amount.", f"{path}, line {element.line}", _ASK)
    return value


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
    """The elements at a place of a transaction, or of the first of an entry's."""
    of_entry = element.name == "Ntry"
    yield from element.all(f"NtryDtls/TxDtls/{place}" if of_entry else place)
