"""Which resin a pour took that names none, where several were there: asked once, as `work.pour_could` has them."""

from collections.abc import Iterator

import duckdb
import polars as pl

from pipeline.asking.question_at import QuestionAt
from pipeline.cleaning.worth import WORTH
from pipeline.proposing.question import LITTLE, Choice, Question

KIND = "which-resin"


def questions(con: duckdb.DuckDBPyConnection) -> Iterator[QuestionAt]:
    """The pours that name no resin and no lot of one, where more than one could have been taken."""
    placed = con.sql("""
        select place.file, place.sheet, place.row, place.occurrence, array_agg(could.item order by could.item) as resins
        from work.pour_could as could
        join work.pour_resin as took on took.pour = could.pour
        join records.pours on pours.pour = could.pour
        join intake.row as place on place.row_id = pours.row_id
        where took.resin is null
        group by place.file, place.sheet, place.row, place.occurrence
        order by place.file, place.sheet, place.row, place.occurrence
    """).pl()
    question = _question(list(dict.fromkeys(placed["resins"].explode())))
    for (file, sheet), rows in placed.group_by("file", "sheet", maintain_order=True):
        places = rows.select("row", "occurrence", cents=pl.lit(0)).cast(pl.Schema(WORTH))
        yield QuestionAt(question, str(file), str(sheet), "", rows.height, 0, places=places)


def _question(resins: list[str]) -> Question:
    choices = tuple(
        Choice(item, f"pours that name no resin took {item}", (("", "usual_resin", item),)) for item in resins
    )
    ask = "Which resin was poured where none is named? Until it is known, it costs no piece anything."
    return Question(KIND, "", ask, choices, LITTLE, "pours", "resin")
