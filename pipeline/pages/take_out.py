"""What a page hands out as a file, as the command of the same name does: reports, all tables, a backup; closing."""

import io
import tempfile
import zipfile
from datetime import date
from pathlib import Path

from pipeline import backups
from pipeline.database import closed_months
from pipeline.database.open_database import opened
from pipeline.errors import call
from pipeline.shop import load

MOST_BYTES = 300 * 2**20
"""A backup above it is made, and made a shop of again, by the command: a page would hold all of it in memory."""


def month_report(folder: Path, month: date) -> bytes:
    """The month as one page of HTML."""
    from pipeline.reports import month as report

    with opened(folder) as con:
        return report.html(con, month, load(folder).minor_digits).encode()


def year_end(folder: Path, year: int) -> bytes:
    """The year-end workbook."""
    from pipeline.reports import yearend

    with tempfile.TemporaryDirectory() as home, opened(folder) as con:
        return yearend.write(con, Path(home), year, load(folder).minor_digits).read_bytes()


def all_tables(folder: Path, kind: str = "csv") -> bytes:
    """Every published table with its description, in one archive."""
    from pipeline.reports import export

    content = io.BytesIO()
    with tempfile.TemporaryDirectory() as home, opened(folder) as con:
        written = export.export(con, Path(home), kind)
        with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as archive:
            for path in written:
                archive.write(path, path.name)
    return content.getvalue()


def backup(folder: Path) -> bytes:
    """All files of the shop in one archive."""
    content = io.BytesIO()
    backups.pack(folder, content)
    return content.getvalue()


def restore(folder: Path, name: str, content: bytes) -> tuple[str, str]:
    """Make a shop of a backup of this file name, in a new folder beside the shop's; gives that, and the command that
    opens it. Raises `UserError`, and leaves nothing behind, for what is no backup."""
    to = backups.beside(folder, name)
    backups.unpack(io.BytesIO(content), name, to)
    return str(to), call("show", to)


def backup_name(folder: Path) -> str:
    """What the archive is called."""
    return backups.named(folder, load(folder).now().date())


def is_large(folder: Path) -> bool:
    """Whether a backup is too large for a page."""
    return backups.size(folder) > MOST_BYTES


def commands(folder: Path) -> tuple[str, str]:
    """The commands that do the same: of a backup, and of making a shop of one."""
    return call("backup", folder), "kerfledger restore FILE.zip DIR"


def is_closed(folder: Path, month: date) -> bool:
    """Whether a month is closed."""
    return (folder / closed_months.FOLDER / f"{month:%Y-%m}.csv").exists()


def close_month(folder: Path, month: date) -> str:
    """Freeze a month's figures, and begin a refresh; gives the file that says so, as a path in the shop."""
    from pipeline.refresh import background

    path = closed_months.close(folder, month)
    background.start(folder)
    return path.relative_to(folder).as_posix()
