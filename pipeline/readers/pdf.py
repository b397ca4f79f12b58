"""Papers: PDF files and pictures. One kind of PDF carries its invoice as data: Factur-X (EN 16931, CII in PDF/A-3).

Source of the names of the file inside: Factur-X 1.0 (FNFE-MPE and FeRD), on embedded files. What a paper shows to the
eye is never read: it stays in the inbox, and is opened from the rows that have its number (`pages/papers.py`).
"""

from pathlib import Path

from pipeline.errors import UserError
from pipeline.readers.reader_output import MESSAGE, TextTable, frame_of, ignored_of
from pipeline.readers.xml_document import tables_of
from pipeline.writing.internal_errors import ends_us

PICTURES = (".jpg", ".jpeg", ".png", ".webp", ".heic", ".tif", ".tiff")
PAPERS = (".pdf", *PICTURES)

INSIDE = ("factur-x.xml", "zugferd-invoice.xml", "xrechnung.xml")

KEPT = (
    "It is kept as paper, and opened from rows whose receipt is in its name. What it shows isn't read: put its rows "
    "into a table or on the Log page."
)


def as_paper(path: Path, why: str = "") -> list[TextTable]:
    """A picture as a table without rows that says what becomes of it, and why."""
    return [TextTable("", (), frame_of([], []), ignored_of([]), {"kind": "paper", MESSAGE: f"{why}{KEPT}"})]


def read_pdf(path: Path, own_name: str = "") -> list[TextTable]:
    """The lines of the invoice that a PDF carries, as `read_xml` has them; any other PDF is paper."""
    from pypdf import PdfReader

    try:
        held = PdfReader(path).attachments
        invoice = next((held[name][0] for name in held if name.lower() in INSIDE), None)
    except Exception as error:  # the library says of itself that a broken file may raise anything
        if ends_us(error):
            raise
        raise UserError("The PDF can't be read: it is damaged or locked.", str(path), "Get it anew.") from None
    if invoice is None:
        return as_paper(path)
    try:
        return tables_of(invoice, path, own_name)
    except UserError as error:  # such as a profile without lines: what the paper shows stands all the same
        return as_paper(path, f"The invoice in it can't be used. {error.what} ")
