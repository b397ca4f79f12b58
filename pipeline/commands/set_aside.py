"""The rows set aside, written as files to mend them in: one a record, with the reason of each and a mark."""

import sys
from pathlib import Path

import duckdb

from pipeline.commands.shared import FINE
from pipeline.errors import UserError
from pipeline.refresh import corrections
from pipeline.reports.finding import rows_of
from pipeline.shop import load
from pipeline.writing import whole


def write(con: duckdb.DuckDBPyConnection, folder: Path, file: Path) -> int:
    """Write the rows set aside to a new file; those of several records to one each, named beside it."""
    shop = load(folder)
    rejected = rows_of(con, "from intake.rejected order by file, sheet, row, occurrence")
    records = sorted({str(row["record"]) for row in rejected})
    names = {name: file.with_name(f"{file.stem}-{name}{file.suffix}") for name in records}
    places = names if len(records) > 1 else dict.fromkeys(records, file)
    taken = next((path for path in places.values() or (file,) if path.exists()), None)
    if taken:
        raise UserError("This file is there already; it stays as it is.", str(taken), "Name a new one.")
    for name, path in places.items():
        found, unreadable = corrections.set_aside(shop, [row for row in rejected if row["record"] == name])
        whole.write(path, corrections.csv_text(found))
        for error in unreadable:
            print(f"Without the rows of this file:\n{error}", file=sys.stderr)
        print(f"{found.height} of the rows set aside, {name}, are in {path}, with the reason of each and a mark.")
    if not places:
        print("No row is set aside.")
        return FINE
    inbox_of_mends = shop.path(corrections.FOLDER)
    print(f"Mend their cells, put what you mended into {inbox_of_mends} and refresh: each then stands for its row.")
    return FINE
