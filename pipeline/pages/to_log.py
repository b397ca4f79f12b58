"""What to log better, as `kerfledger check` ranks it: by the cost of pieces that was guessed at for want of it."""

from pathlib import Path
from typing import Any

from pipeline.database.open_database import opened
from pipeline.reports.missing import missing


def to_log(folder: Path) -> list[dict[str, Any]]:
    """Each with what it is, the money that rests on it, what would mend it, and its pieces; the dearest first."""
    with opened(folder) as con:
        found = [finding for finding in missing(con) if finding.pieces]
    ranked = sorted(found, key=lambda finding: (-(finding.cents or 0), finding.what))
    return [{"what": f.what, "cents": f.cents, "mend": f.mend, "pieces": list(f.pieces)} for f in ranked]
