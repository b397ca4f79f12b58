"""What was bought and is used for what: asked of each item whose category no file says, or only its supplier."""

from collections.abc import Iterable, Iterator

from pipeline.asking.question_at import QuestionAt
from pipeline.cleaning import Cleaned
from pipeline.cleaning.worth import WORTH
from pipeline.proposing.question import FILE, LITTLE, Choice, Question
from pipeline.records import CATEGORIES
from pipeline.reference import key


def of_categories(cleaned: Iterable[Cleaned]) -> Iterator[QuestionAt]:
    """The questions of all files, once their rows are settled by each other: an item for all its rows in a table."""
    for table in cleaned:
        own = "" if table.mapping.name in ("canonical", "suggested") else table.mapping.name
        places = table.lacking.join(table.worth, on=["row", "occurrence"], how="left", maintain_order="left")
        by = ("file", "sheet", "item", "supplier", "taken")
        for (file, sheet, item, supplier, taken), rows in places.group_by(by, maintain_order=True):
            question = _question(str(item), supplier, taken)
            value = rows.select(*WORTH)
            cents = int(value["cents"].sum())
            yield QuestionAt(question, str(file), str(sheet), own, rows.height, cents, places=value)


def _question(item: str, supplier: object, taken: object) -> Question:
    choices = tuple(
        Choice(category, f"[[items]]: {item} is {category}", (("items", item, category),))
        for category in sorted(CATEGORIES, key=lambda category: category != taken)
    )
    ask = f"What is “{item}” used for?"
    if taken:
        ask = f"{ask} It is taken for {taken}, as all else from {supplier}."
    return Question("category", key(item), ask, choices, LITTLE if taken else FILE, "purchases", "category")
