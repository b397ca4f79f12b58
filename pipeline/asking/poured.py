"""Which resin a pour took that names none, where several were there: asked once, as `work.pour_resin` needs it."""

from collections.abc import Iterator
from datetime import timedelta

import polars as pl

from pipeline.asking import sizes
from pipeline.asking.question_at import QuestionAt
from pipeline.cleaning.worth import WORTH
from pipeline.linking import Linked
from pipeline.proposing.questions import LITTLE, Choice, Question
from pipeline.shop import Shop

KIND = "which-resin"


def questions(linked: Linked, shop: Shop) -> Iterator[QuestionAt]:
    """The pours that name no resin and no lot of one, where more than one could have been taken."""
    pours = linked.records["pours"]
    open_ = pours.filter(pl.col("resin").is_null().all().over("pour"))
    if open_.is_empty() or shop["usual_resin"]:
        return
    seen = _seen(linked, shop)
    by_lot = set(seen.drop_nulls("lot")["lot"])
    first = dict(seen.group_by("item").agg(pl.col("on_date").min()).sort("item").iter_rows())
    late = timedelta(days=int(shop["late_receipt_days"]))
    of_tag: dict[str, list[str]] = {}
    for tag, lot, day in open_.group_by("pour").agg(pl.col("lot").min(), pl.col("on_date").min()).iter_rows():
        then = [item for item, on in first.items() if on <= day + late] or list(first)
        if lot not in by_lot and len(then) > 1:
            of_tag[tag] = then
    asked = open_.filter(pl.col("pour").is_in(list(of_tag)))
    where = linked.row.select("row_id", "file", "sheet", "row", "occurrence")
    placed = asked.join(where, on="row_id").sort("file", "sheet", "row", "occurrence")
    question = _question(list(dict.fromkeys(item for tag in placed["pour"] for item in of_tag[tag])))
    for (file, sheet), rows in placed.group_by("file", "sheet", maintain_order=True):
        places = rows.select("row", "occurrence", cents=pl.lit(0)).cast(pl.Schema(WORTH))
        yield QuestionAt(question, str(file), str(sheet), "", rows.height, 0, places=places)


def _question(resins: list[str]) -> Question:
    choices = tuple(
        Choice(item, f"pours that name no resin took {item}", (("", "usual_resin", item),)) for item in resins
    )
    ask = "Which resin was poured where none is named? Until it is known, it costs no piece anything."
    return Question(KIND, "", ask, choices, LITTLE, "pours", "resin")


def _seen(linked: Linked, shop: Shop) -> pl.DataFrame:
    """Each resin with the days and lots that it is on record with."""
    records = linked.records
    resins = sizes.items(linked, shop).filter(category="resin").select("item")
    supplies = pl.concat(
        [
            records["purchases"].select("item", "lot", "on_date"),
            records["counts"].select("item", "lot", "on_date"),
            records["pours"].select(item="resin", lot=pl.lit(None, pl.String), on_date="on_date"),
        ]
    )
    return supplies.join(resins, on="item", how="semi")
