"""XML files by the standard that they follow, which the name of their root tells."""

from collections.abc import Callable, Mapping
from pathlib import Path

from pipeline.errors import UserError
from pipeline.readers import bank_statement, invoice
from pipeline.readers.reader_output import TextTable
from pipeline.readers.xml_tree import Element, parse

_BY_ROOT: Mapping[str, Callable[[Element, Path, str], list[TextTable]]] = {
    "Document": bank_statement.tables,
    "Invoice": invoice.of_ubl,
    "CreditNote": invoice.of_ubl,
    "CrossIndustryInvoice": invoice.of_cii,
}

KNOWN = "bank statements by ISO 20022 camt.053, invoices by UBL 2.1 or UN/CEFACT CII (EN 16931)"


def read_xml(path: Path, own_name: str = "") -> list[TextTable]:
    """The rows of a bank statement or an invoice, under the canonical field names, as strings.

    `own_name` is what the shop is called: an invoice that it wrote is a sale. `row` is the line of the file at which
    an entry or a line begins. `UserError` for any other XML.
    """
    return tables_of(path.read_bytes(), path, own_name)


def tables_of(data: bytes, path: Path, own_name: str = "") -> list[TextTable]:
    """The same, of bytes that came out of `path`."""
    root = parse(data, path)
    made = _BY_ROOT.get(root.name)
    if made is None:
        raise UserError(
            f"XML of this kind isn't read: it begins with <{root.name[:60]}>.", str(path), f"Read are {KNOWN}."
        )
    return made(root, path, own_name)
