"""What the cells of a table leave open: words that nobody knows, units, day or month first, what a minus means."""

import difflib
from collections.abc import Callable, Iterator, Sequence

import polars as pl

from pipeline.asking.example_row import example_row
from pipeline.asking.likely import likely_words
from pipeline.asking.question_at import QuestionAt
from pipeline.cleaning import Cleaned, ounces
from pipeline.cleaning.synonyms import Words
from pipeline.cleaning.taught_words import CHOICES
from pipeline.errors import QUESTIONS
from pipeline.mapping import SIGNS
from pipeline.proposing.question import FILE, LITTLE, MONEY, Choice, Question
from pipeline.readers import TextTable
from pipeline.records import RECORDS
from pipeline.reference import header_key, key, names
from pipeline.settings import PRICED_BY
from pipeline.shop import Shop

SIZES = ("mm", "cm", "in", "m", "ft")
AS_WRITTEN = "what it says: a kind of its own"

ASKED = {
    "action": "What was decided about a piece, where it says {}?",
    "category": "What sort of thing is {}?",
    "cause": "Why was a count not as expected, where it says {}?",
    "channel": "Where was it sold, where it says {}?",
    "defect": "Which defect is {}?",
    "direction": "Did money come in or go out, where it says {}?",
    "finish": "Which finish is {}?",
    "item": "Which material is {}?",
    "kind": "What kind of payment is {}?",
    "machine": "Which machine is {}?",
    "operation": "What work is {}?",
    "person": "Who is {}?",
    "pool": "Which of the shop's running costs is {}?",
    "product": "Which product is {}?",
    "purpose": "What was poured, where it says {}?",
    "record": "What are the rows that say {}?",
    "returned_to": "Where did what came back go, where it says {}?",
    "species": "Which wood is {}?",
    "status": "How does a piece stand, where it says {}?",
    "unit": "How much is one {}?",
    "yes_no": "Is {} yes or no?",
}
"""What a word is asked for, by its vocabulary."""

ALWAYS = ("operation", "person", "machine", "channel")
"""Vocabularies of which an unknown word shapes money; of others it is asked about only where it looks like a slip."""

MOST = 40
"""So many words of a table, or of a field of rows set aside, are asked about; the rest are told as findings."""

_UNIT_OF = r"“(.+?)” is not in the unit table"


def of_rows(table: TextTable, cleaned: Cleaned, shop: Shop, file: str) -> list[QuestionAt]:
    """The questions of one table, each with its rows and the cents that hang on them."""
    how = cleaned.mapping
    mapping = "" if how.name in ("canonical", "suggested") else how.name
    found = (
        *_faults(cleaned, shop),
        *_each_or_row(cleaned),
        *_unknown(cleaned, shop),
        *_signs(cleaned),
        *_likely(table, cleaned, shop),
    )
    asked = []
    for question, places in found:
        rows = places.select("row", "occurrence").cast(pl.Int64).unique()
        value = cleaned.worth.join(rows, on=["row", "occurrence"], how="semi", maintain_order="left")
        cents, seconds = int(value["cents"].sum()), int(value["seconds"].sum())
        stands = example_row(table, how, question.about.partition("|")[2], rows) if question.kind == "word" else ""
        asked.append(
            QuestionAt(
                question, file, table.sheet, mapping, rows.height, cents, places=value, seconds=seconds, stands=stands
            )
        )
    return asked


Found = tuple[Question, pl.DataFrame]
"""A question and the rows that it is about."""


def _faults(cleaned: Cleaned, shop: Shop) -> Iterator[Found]:
    """Rows that are set aside until something is said: once a word or a unit, once all bare sizes or all dates. Of the
    words of a field those of most rows are asked about."""
    about = ["code", "field"]
    told = pl.col("text").fill_null("")
    word = (
        pl.when(pl.col("code").is_in(_ONCE))
        .then(told.first().over(about))
        .when(pl.col("code") == "unit")
        .then(pl.col("suggestion").str.extract(_UNIT_OF))
        .otherwise(told)
    )
    asked = (
        cleaned.rejected.filter(pl.col("code").is_in(list(_OF_FAULTS)))
        .with_columns(word.alias("word"))
        .drop_nulls("word")
    )
    counted = (
        asked.group_by(*about, "word", maintain_order=True).len().sort("len", descending=True, maintain_order=True)
    )
    most = counted.group_by(about, maintain_order=True).head(MOST)
    for (code, name, text), places in asked.join(most, on=[*about, "word"], how="semi", maintain_order="left").group_by(
        *about, "word", maintain_order=True
    ):
        question = _OF_FAULTS[str(code)](cleaned.record, str(name), str(text), shop)
        if question:
            yield question, places


def word_question(vocabulary: str, word: str, meanings: Sequence[str], holds: str, record: str = "") -> Question:
    """What a word means, to be taught in `[words.<vocabulary>]`."""
    choices = tuple(
        Choice(meaning, f"[words.{vocabulary}]: “{word}” means {meaning}", ((f"words.{vocabulary}", word, meaning),))
        for meaning in dict.fromkeys(meanings)
    )
    own = Choice(AS_WRITTEN, f"[words.{vocabulary}]: “{word}” is a name", ((f"words.{vocabulary}", word, word),))
    # a unit that means itself is still unknown
    named = (own,) if vocabulary not in (*CHOICES, "unit") and word not in meanings else ()
    asked = ASKED[vocabulary].format(f"“{word}”")
    return Question("word", f"{vocabulary}|{key(word)}", asked, (*choices, *named), holds, record, vocabulary)


def _by_nearness(word: str, known: Sequence[str]) -> list[str]:
    near = {name: difflib.SequenceMatcher(None, key(word), key(name)).ratio() for name in known}
    return sorted(known, key=lambda name: -near[name])


def _choice(record: str, name: str, text: str, shop: Shop) -> Question | None:
    field = RECORDS[record].field(name)
    # of an amount it is the word for its direction, which is no field
    vocabulary = "direction" if field.kind == "money" else field.vocabulary or field.name
    known = field.choices or CHOICES[vocabulary]
    return word_question(vocabulary, text, _by_nearness(text, known), FILE, record)


def _yes_no(record: str, name: str, text: str, shop: Shop) -> Question | None:
    return word_question("yes_no", text, ("yes", "no"), FILE, record)


def _ambiguous(record: str, name: str, text: str, shop: Shop) -> Question | None:
    vocabulary = RECORDS[record].field(name).vocabulary
    meanings = sorted(names(vocabulary).get(key(text), ()))
    return word_question(vocabulary, text, meanings, FILE, record) if meanings else None


def _unit(record: str, name: str, text: str, shop: Shop) -> Question | None:
    return word_question("unit", text, _by_nearness(text, PRICED_BY), FILE, record)


def _no_unit(record: str, name: str, text: str, shop: Shop) -> Question | None:
    field = RECORDS[record].field(name)
    if field.kind == "length":
        choices = tuple(
            Choice(unit, f"sizes_in: bare sizes are in {unit}", (("", "sizes_in", unit),)) for unit in SIZES
        )
        ask = "In what unit are sizes that stand without one?"
        return Question("sizes", "sizes", ask, choices, FILE, record)
    if field.kind != "quantity":
        return None
    choices = tuple(
        Choice(unit, f"units: a bare {field.name} is in {unit}", mapping={"record": record, "units": {name: unit}})
        for unit in PRICED_BY
    )
    ask = f"In what unit is the {name.replace('_', ' ')} in {record} that stands without one?"
    return Question("unit", f"{record}|{name}", ask, choices, FILE, record, name)


def _ounces(record: str, name: str, text: str, shop: Shop) -> Question | None:
    says = {"fluid ounces, by volume": ounces.BY_VOLUME, "ounces by weight": ounces.BY_WEIGHT}
    choices = tuple(
        Choice(
            label,
            f"units: ounces of resin are {label}",
            mapping={"record": record, "units": dict.fromkeys(ounces.FIELDS, unit)},
        )
        for label, unit in says.items()
    )
    return Question("ounces", record, "Are ounces of resin by volume, or by weight?", choices, FILE, record)


def _dates(record: str, name: str, text: str, shop: Shop) -> Question | None:
    choices = tuple(
        Choice(f"the {first}", f"date_order: the {first} comes first", mapping={"record": record, "date_order": first})
        for first in ("day", "month")
    )
    ask = f"Which comes first where a date may be read both ways, such as {text}?"
    return Question("dates", "dates", ask, choices, FILE, record)


def _unknown(cleaned: Cleaned, shop: Shop) -> Iterator[Found]:
    """Words that no list knows, where they look like a slip or shape what an hour or a sale costs."""
    of_record = {f.vocabulary: f.name for f in RECORDS[cleaned.record] if f.kind == "word"}
    asked = (pl.col("vocabulary") != "item") & pl.col("vocabulary").is_in(list(of_record))
    asked &= pl.col("nearest").fill_null("").ne("") | pl.col("vocabulary").is_in(ALWAYS)
    words = cleaned.unknown_words.filter(asked).head(MOST)
    for vocabulary, word, near in words.select("vocabulary", "word", "nearest").rows():
        known = Words(vocabulary, shop).own_names() or sorted({m for ms in names(vocabulary).values() for m in ms})
        meanings = [near, *_by_nearness(word, known)] if near else _by_nearness(word, known)
        places = cleaned.frame.filter(pl.col(of_record[vocabulary]) == word).select("row", "occurrence")
        yield word_question(vocabulary, word, meanings, LITTLE, cleaned.record), places


def _each_or_row(cleaned: Cleaned) -> Iterator[Found]:
    """Rows that sell several by a count in their text."""
    places = cleaned.rejected.filter(code="each-or-row").select("row", "occurrence")
    if places.is_empty():
        return
    header = cleaned.mapping.columns.get("price", "price")
    words = {"each": "for each", "row": "for the whole row"}
    choices = tuple(
        Choice(label, f"takes “{header}” as {label}", mapping={"record": cleaned.record, "price_for": said})
        for said, label in words.items()
    )
    ask = f"Is “{header}” for each, or for the whole row?"
    yield (
        Question("each", f"{cleaned.record}|{header_key(header)}", ask, choices, FILE, cleaned.record, "price"),
        places,
    )


_SIGN_WORDS = {
    "cost": "a cost, as those without",
    "credit": "money given back",
    "out": "money that goes out",
    "kind": "against its kind: money that came back",
}


def _signs(cleaned: Cleaned) -> Iterator[Found]:
    for (name, code), asked in cleaned.questions.group_by("field", "code", maintain_order=True):
        name, code, places = str(name), str(code), asked.select("row", "occurrence")
        if (cleaned.record, name) not in SIGNS:
            yield _total(cleaned, name, code), places
            continue
        header = cleaned.mapping.columns.get(name, name)
        choices = [
            Choice(
                _SIGN_WORDS[said],
                f"signs: a minus in “{header}” is {_SIGN_WORDS[said]}",
                mapping={"record": cleaned.record, "signs": {name: said}},
            )
            for said in SIGNS[cleaned.record, name]
        ]
        if code == "sign-income":
            told = {"record": cleaned.record, "columns": {"shipping_paid": header}}
            choices.append(Choice("what the shop paid", f"takes “{header}” as the shipping paid", mapping=told))
        ask = f"What does a minus in “{header}” of {cleaned.record} mean? {QUESTIONS[code].title}."
        question = Question(code, f"{cleaned.record}|{name}", ask, tuple(choices), MONEY, cleaned.record, name)
        yield question, places


def _total(cleaned: Cleaned, name: str, code: str) -> Question:
    """Which column to go by where the row's total is not the price times the quantity."""
    total, each = cleaned.mapping.helpers.get("row_total", ""), cleaned.mapping.columns.get(name, "")
    told = {"record": cleaned.record}
    choices = (
        Choice(f"“{each}”, the price of each", f"leaves “{total}” out", mapping=told | {"left_out": [total]}),
        Choice(
            f"“{total}”, the total of the row",
            f"leaves “{each}” out",
            mapping=told | {"left_out": [each], "helpers": {"row_total": total}},
        ),
    )
    ask = f"{QUESTIONS[code].title}. Which counts?"
    return Question(code, f"{cleaned.record}|{total}|{each}", ask, choices, MONEY, cleaned.record, name)


def _year(record: str, name: str, text: str, shop: Shop) -> Question | None:
    """Which years it may be is no fact of the file, and told by `gather`."""
    return Question("year", "year", "Of which year are the dates without one?", (), FILE, record)


def _likely(table: TextTable, cleaned: Cleaned, shop: Shop) -> Iterator[Found]:
    """Words that were taken for the likeliest of several things."""
    for word in likely_words(table, cleaned.mapping, shop):
        if word.settled:
            continue
        meanings = (word.taken, *(m for m in word.meanings if m != word.taken))
        question = word_question(word.vocabulary, word.word, meanings, LITTLE, cleaned.record)
        listed = " or ".join(meanings)
        ask = f"Is “{word.word}” {listed}? It is taken for {word.taken}."
        choices = question.choices[: len(meanings)]
        yield Question("word", question.about, ask, choices, LITTLE, cleaned.record, word.vocabulary), word.places


_OF_FAULTS: dict[str, Callable[[str, str, str, Shop], Question | None]] = {
    "choice": _choice,
    "yes-no": _yes_no,
    "ambiguous-word": _ambiguous,
    "unit": _unit,
    "unit-missing": _no_unit,
    "ounces": _ounces,
    "date-order": _dates,
    "date-year": _year,
}
_ONCE = ("unit-missing", "ounces", "date-order", "date-year")
"""Faults that one question settles whatever the cells say."""
