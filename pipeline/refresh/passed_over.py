"""What a refresh passes over: tables that look like nothing of the shop, unless another file knows what is in them."""

from collections.abc import Sequence

from pipeline.cleaning.recurring import TAG
from pipeline.mapping import Mapping, column_of
from pipeline.mapping.private_columns import sample, share_true
from pipeline.proposing.question import Question
from pipeline.readers import TextTable

NOTHING = "holds no record"
"""Why the rows of a table that looks like nothing of the shop are passed over."""
LIKE_NOTHING = "Nothing in it looks like a record of the shop. If it is one, settle it on the Files page."
MOSTLY_TAGS = 0.9


def is_nothing(questions: Sequence[Question]) -> bool:
    """Whether a table is passed over, since nothing hangs on what it may be."""
    return bool(questions) and not any(question.asked for question in questions)


def stray_tags(table: TextTable, how: Mapping) -> bool:
    """Whether a column that is no field holds tags."""
    used = {column_of(table, header) for header in (*how.columns.values(), *how.helpers.values(), *how.spread)}
    rest = (sample(table.frame[name]) for name in table.columns if name not in used)
    return any(texts.len() > 1 and share_true(texts.str.contains(TAG)) > MOSTLY_TAGS for texts in rest)
