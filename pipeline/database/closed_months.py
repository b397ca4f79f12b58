"""Closed months: the figures of a month, frozen in `reports/closed/2026-05.csv`.

A closed month keeps its figures whatever the files say later. The models read what was frozen as `intake.closed`, and
count what would change it as one line, *earlier months*, of the first open month after it (`money.earlier`).
"""

from datetime import date
from pathlib import Path

import polars as pl

from pipeline.database import LOCK_WAIT_S, lock
from pipeline.database.open_database import opened
from pipeline.errors import UserError
from pipeline.tables import in_polars, intake
from pipeline.writing import whole

FOLDER = Path("reports", "closed")

SCHEMA = in_polars(intake("closed"))

# row ids change with every refresh, so a line is kept by what it is about
_FIGURES = """
select month, 'line' as kind, line as name, place, layer, on_date, piece, item, operation, own_labour,
    sum(cents)::bigint as amount
from money.line where month = $month group by all
union all
select month, 'figure', figure, '', '', null, null, null, null, null, amount from money.figure where month = $month
order by all
"""


def close(folder: Path, month: date, wait_s: float = LOCK_WAIT_S) -> Path:
    """Freeze the month's figures as last published; `month` is its first day. Gives the file written.

    Raises `UserError` for a month that is not on record, not over, or closed already.
    """
    path = folder / FOLDER / f"{month:%Y-%m}.csv"
    name = f"{month:%B %Y}"
    with lock(folder, wait_s), opened(folder) as con:
        if path.exists():
            raise UserError(f"{name} is closed already.", str(path), "To open it again, delete this file and refresh.")
        found = con.execute("select whole from money.month where month = ?", [month]).fetchall()
        if not found:
            raise UserError(f"{name} is not on record.", str(folder), "Name a month that `kerfledger refresh` found.")
        if not found[0][0]:
            raise UserError(f"{name} is not over: its last day has no record yet.", str(folder), "Close it later.")
        frame = con.sql(_FIGURES, params={"month": month}).pl().cast(SCHEMA)
        whole.make_folder(path.parent)
        return whole.write(path, frame.write_csv())


def closed(folder: Path) -> pl.DataFrame:
    """All that was frozen, as `intake.closed`. Raises `UserError` for a file that is not as it was written."""
    return pl.concat([pl.DataFrame(schema=SCHEMA), *(_read(path) for path in sorted((folder / FOLDER).glob("*.csv")))])


def _read(path: Path) -> pl.DataFrame:
    try:
        frame = pl.read_csv(path, schema=SCHEMA)
    except (pl.exceptions.PolarsError, OSError):
        frame = None
    if frame is None or frame.select(pl.col("month", "kind", "name", "amount").is_null().any()).row(0) != (False,) * 4:
        raise UserError(
            "The figures of this closed month can't be read.",
            str(path),
            "Bring the file back from a copy, or delete it to open the month again.",
        )
    # an empty text and none look alike in the file
    return frame.with_columns(pl.col("place", "layer").fill_null(""))
