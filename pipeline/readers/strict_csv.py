"""Text files that are in order throughout (RFC 4180): one delimiter, every quote in its place, every row of one width.

What stands in the cells of such a file is no evidence against it, so nothing is guessed about it.
"""

import numpy as np

from pipeline.readers.grid import shape_of
from pipeline.readers.lenient_csv import Marks

_DELIMITERS = (",", ";", "\t", "|")
_QUOTE = b'"'


def strict_marks(data: bytes) -> list[Marks]:
    """The marks by which UTF-8 `data` is in order from its first row to its last; none where no delimiter does it.

    Without a quote in the file two columns are too few to tell: a decimal comma on each line parts a text as well.
    """
    first = data[: max(data.find(b"\n"), data.find(b"\r"), 0) or len(data)]
    least = 2 if _QUOTE in data else 3
    likely = [mark for mark in _DELIMITERS if mark.encode() in (data if first.startswith(_QUOTE) else first)]
    return [Marks(mark) for mark in likely if _width(data, mark.encode()) >= least]


def _width(data: bytes, delimiter: bytes) -> int:
    """How many cells all rows but blank ones have; 0 where they differ, or where a quote is out of place."""
    shape = shape_of(data, delimiter, _QUOTE)
    if shape is None or len(shape.ends) < 2:
        return 0
    starts = np.concatenate(([0], shape.ends[:-1] + 1))
    blank = (shape.ends - starts <= 1) & (shape.widths == 1)
    widths = np.unique(shape.widths[~blank])
    return int(widths[0]) if len(widths) == 1 else 0
