"""How much a reader takes on. Beyond it a file is refused with a clear word, before it fills the memory."""

import struct
import zipfile
import zlib
from pathlib import Path
from xml.etree import ElementTree
from xml.parsers import expat

import polars as pl

from pipeline.errors import UserError
from pipeline.processes.workers import Limit

FILE_BYTES = 512 * 2**20
UNPACKED_BYTES = 2**30
UNPACKED_TIMES = 250
CELLS = 100_000_000
CELL_BYTES = 2**20
COLUMNS = 2_000
AREA, SPARSE = 20_000_000, 50
"""A sheet's cells may reach so far, or over so many times as many places as are filled."""

NESTING = 40

READ_SECONDS, READ_SECONDS_PER_MB = 10.0, 4.0
READ_BYTES, READ_TIMES = 600 * 2**20, 60
PACKED_TIMES = 8
"""What reading a file, with its cleaning, may take: a part for any file, and a part by its size; a packed kind holds
more than its size says."""

DAMAGED = (
    *(zipfile.BadZipFile, zlib.error, ElementTree.ParseError, expat.ExpatError, OSError, EOFError, struct.error),
    *(ValueError, KeyError, IndexError, NotImplementedError, RuntimeError),
)
"""What comes of an archive that is damaged, locked or packed in a way of its own."""

_PACKED = (".xlsx", ".ods", ".parquet")


def limit(path: Path, size: int) -> Limit:
    """What reading a file of so many bytes may take."""
    held = size * (PACKED_TIMES if path.suffix.lower() in _PACKED else 1)
    return Limit(READ_SECONDS + READ_SECONDS_PER_MB * held / 2**20, READ_BYTES + READ_TIMES * held)


def gave_up(error: BaseException, kinds: type[Exception] | tuple[type[Exception], ...]) -> bool:
    """Whether a library in Rust gave up on a file: by an exception of its own kinds, or a panic, which is none."""
    return isinstance(error, kinds) or type(error).__name__ == "PanicException"


CLOSED = "See that you may read it, close what holds it, or copy it anew."


def cant_open(error: OSError) -> str:
    """What is said of a file that the system does not hand out."""
    return f"It can't be opened: {error.strerror or type(error).__name__}."


def check_file(path: Path) -> None:
    """`UserError` when there is no such file, it can't be opened, or it is too large."""
    if not path.is_file():
        raise UserError("There is no such file.", str(path), "Check its name.")
    try:
        with path.open("rb"):
            size = path.stat().st_size
    except OSError as error:
        raise UserError(cant_open(error), str(path), CLOSED) from None
    if size > FILE_BYTES:
        raise UserError(
            f"The file has {size / 2**20:,.0f} MB; at most {FILE_BYTES / 2**20:,.0f} MB are read.",
            str(path),
            "Split it by year.",
        )


def check_archive(path: Path) -> None:
    """`UserError` for a workbook that is no ZIP archive, or one that unpacks to far more than a workbook does."""
    try:
        with zipfile.ZipFile(path) as archive:
            unpacked = sum(part.file_size for part in archive.infolist())
    except DAMAGED:
        mend = "Open it in a spreadsheet and save it again, without a password."
        raise UserError("The workbook can't be opened: it is damaged or locked.", str(path), mend) from None
    if unpacked > UNPACKED_BYTES or (unpacked > 2**24 and unpacked > UNPACKED_TIMES * path.stat().st_size):
        size = f"{unpacked / 2**20:,.0f} MB"
        raise UserError(f"The workbook unpacks to {size}, too much to be one.", str(path), "Save it as CSV.")


def check_columns(count: int, where: str) -> None:
    """`UserError` for more columns than any table a person keeps."""
    if count > COLUMNS:
        mend = "Check its delimiter and its line ends, or leave out what is no table."
        raise UserError(f"A row has {count:,} cells; at most {COLUMNS:,} are read.", where, mend)


def check_cells(frame: pl.DataFrame, where: str) -> None:
    """`UserError` for too many cells, or a cell longer than any text a person writes."""
    check_columns(frame.width, where)
    if frame.height * frame.width > CELLS:
        raise UserError(f"The file has more than {CELLS:,} cells.", where, "Split it.")
    texts = [name for name, kind in frame.schema.items() if kind == pl.String]
    longest = frame.select(pl.max_horizontal(pl.col(texts).str.len_bytes().max())).item() if texts else 0
    if longest and longest > CELL_BYTES:
        raise UserError(f"A cell holds {longest:,} bytes.", where, "Check the file's quotes: one may never be closed.")
