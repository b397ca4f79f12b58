"""How strongly what stands in a column speaks for or against a field, in weights of evidence as for its header.

A field's own reader says how much of the texts it can read: little of it speaks against the field, whatever it is
called; all of it speaks for it only as far as no other kind of text could be read so too.
"""

from collections.abc import Callable

import polars as pl

from pipeline.cleaning import KINDS as READERS
from pipeline.cleaning import column_formats, dates, numbers, quantities
from pipeline.cleaning.item_categories import categories
from pipeline.cleaning.parsed import About
from pipeline.cleaning.recurring import KINDS, TAG, kind_of, share
from pipeline.cleaning.several_facts import sizes, work_of
from pipeline.cleaning.synonyms import LISTED, SHOP_TABLES, Words
from pipeline.cleaning.texts import LONGEST
from pipeline.mapping.private_columns import share_true
from pipeline.proposing import file_names
from pipeline.records import Field, Record
from pipeline.reference import key, names
from pipeline.shop import Shop

UNREADABLE = 7.0
"""What a column weighs less for a field none of whose texts can be read as it."""
DATES, TIMES, UNITS, LENGTHS_OF_TIME, QUANTITIES, WORDS, CENTS, TAGS = 2.2, 3.0, 5.2, 1.6, 3.4, 3.2, 0.9, 0.8
"""What it weighs more where all its texts are such, in a way that other kinds of text are not."""
MORE_WORDS, OWN, ITEMS = 0.7, 4.5, 2.6
"""What it weighs more for each known word beyond the second, two of them at most; that all are names that the shop's
settings give; that the words of all say what such a thing is used for."""
RECURS, SOME, HALF, FEW = 4.0, 0.3, 0.5, 3
"""What it weighs that all texts stand in other files too; some of them as what it is, half as something else, and
three different ones at least."""
WEEKDAYS = 4.0
"""What it weighs for no field that all texts are days of the week."""
NONE_KNOWN = -0.8
"""Words none of which a closed vocabulary knows: another language perhaps."""

_NUMBER = r"^[\s\d.,:/$€£%'’-]+$|^\d{1,2}[:.h]?(?:[0-5]\d)?\s*[ap]\.?m?\.?$"
"""A number, a day or a time of day."""
_WITH_UNIT = r"^\D{0,2}\d[\d.,/ ]*\s*[^\W\d]+\.?$"
_WITH_CENTS = r"^\W*\d[\d.,'’\s]*[.,]\d{2}\W*(?:[A-Za-z]{1,3})?$|[$€£¥]"
_CLOCK = r"^\d{1,3}:\d\d(?::\d\d)?$|\d\s*(?:h|min)"
_SHORT = r"^(?:[^\W\d_]{1,4}\.?|[cd]?m[²³23])$"
_YEARS = r"^(?:19|20)\d\d$"
_DATE_OR_MONEY = r"^\d{4}-\d\d-\d\d|^\d{1,2}\.\s?\d{1,2}\.$|^\d{1,2}[./]\d{1,2}[./]\d{2,4}|[$€£]|^-?\d+[.,]\d{1,2}$"
_DAY_WITHOUT_YEAR = r"^\d{1,2}\.\s?\d{1,2}\.$|[^\W\d_]{3}"


def weight(texts: pl.Series, field: Field, shop: Shop, header: str = "") -> float:
    """How strongly the distinct texts of a column speak for a field."""
    return _by_itself(texts, field, shop, header) + recurring(texts, field, shop) if texts.len() else 0.0


def of_no_use(texts: pl.Series) -> float:
    """How strongly the texts say that a column is of no use: days of the week alone."""
    days = names("weekday")
    named = all(key(text) in days and text[:1].isalpha() for text in texts)  # a 1 may be Monday, and anything
    return WEEKDAYS if named and texts.len() > 1 else 0.0


def of_our_pieces(texts: pl.Series, record: Record, shop: Shop) -> float:
    """How strongly it speaks against a record that it has no use for a column of our own pieces' tags."""
    if not shop.seen or texts.len() < FEW or any(kind_of(field) in ("piece", "order_no") for field in record):
        return 0.0
    known = share(texts.to_list(), "piece", shop.seen)
    return RECURS * known if known >= HALF else 0.0


def recurring(texts: pl.Series, field: Field, shop: Shop) -> float:
    """What it weighs that the texts stand in other files too, as what this field names, or as something else."""
    if not shop.seen or field.kind not in ("tag", "tags", "word", "text"):
        return 0.0
    kind, listed = kind_of(field), texts.to_list()
    known = {name: share(listed, name, shop.seen) for name in (KINDS if texts.len() >= FEW else ())}
    own, most = known.get(kind, 0.0), max(known.values(), default=0.0)
    if own >= SOME and own >= most:
        return RECURS * min(1.0, own + SOME)
    return -RECURS * most if most >= HALF and (kind or field.kind == "text") else 0.0


def _by_itself(texts: pl.Series, field: Field, shop: Shop, header: str) -> float:
    readable = fit(texts, field, shop, header)
    if field.kind == "choice" or (field.kind == "word" and field.vocabulary in LISTED):
        known = known_share(texts, field, shop)
        several = MORE_WORDS * min(2, max(0, texts.len() - 2)) if known > 0.9 else 0.0
        return (
            WORDS * known + several
            if known > 0.3
            else NONE_KNOWN - UNREADABLE * share_true(texts.str.contains(_NUMBER))
        )
    against = -UNREADABLE * max(0.0, 0.97 - readable)
    if field.kind == "word" and field.vocabulary in SHOP_TABLES and field.vocabulary != "item":
        own = set(map(key, Words(field.vocabulary, shop).own_names()))
        against += OWN * _share(texts, lambda text: key(text) in own) if own else 0.0
    if field.vocabulary == "channel":
        said = _share(texts, lambda text: bool(file_names.channels_said(key(text))))
        against += WORDS * said if said else NONE_KNOWN
    if field.vocabulary == "item" and readable > 0.9:
        category = categories(shop)
        against += ITEMS * _share(texts.head(50), lambda text: bool(category(text)))
    return against + (_telling(texts, field.kind) if readable > 0.9 else 0.0)


def _telling(texts: pl.Series, kind: str) -> float:
    """What a column weighs more for a field because of what only such a field looks like."""
    if kind == "date":
        return DATES
    if kind == "time":
        return TIMES
    if kind == "unit":
        return UNITS
    if kind == "duration":
        return LENGTHS_OF_TIME * share_true(texts.str.contains(_CLOCK))
    if kind in ("quantity", "length"):
        return QUANTITIES * share_true(texts.str.contains(_WITH_UNIT))
    if kind == "money":
        return CENTS * share_true(texts.str.contains(_WITH_CENTS)) - 0.3
    if kind in ("tag", "tags"):
        return TAGS * share_true(texts.str.contains(TAG))
    return 0.0


def known_share(texts: pl.Series, field: Field, shop: Shop) -> float:
    """How many of the texts are known words of the field's vocabulary or choices."""
    vocabulary = field.vocabulary or field.name
    if vocabulary == "operation":
        return _share(texts, work_of(shop))
    if vocabulary == "category":
        words = Words(vocabulary, shop)
        named = [text for text in texts if len(text) <= LONGEST and words.tells(text)]
        # what was bought for a market is a category beside others, and else where things were sold
        return 0.0 if all(file_names.channels_said(key(text)) for text in named) else len(named) / texts.len()
    own = (*Words(vocabulary, shop).own_names(), *shop.words.get(vocabulary, {}), *field.choices)
    known = {*names(vocabulary), *map(key, own)}
    return _share(texts, lambda text: key(text) in known)


def fit(texts: pl.Series, field: Field, shop: Shop, header: str = "") -> float:
    """How much of a column's content the field's own reader can read, 0 to 1."""
    if not texts.len():
        return 0.6
    if field.kind == "unit":
        units = quantities.Units(shop.words.get("unit"))
        return units_share(texts, units)
    if field.kind == "text" or (field.kind == "word" and field.vocabulary not in LISTED):
        return 1.0 - 0.9 * share_true(texts.str.contains(_NUMBER))
    if field.kind == "word":
        known = known_share(texts, field, shop)
        return known if field.vocabulary == "category" else 0.4 + 0.6 * known
    if field.kind in ("tag", "tags"):
        return _looks_like_tags(texts, field)
    if field.name.endswith("length"):
        texts = first_sizes(texts)
    return _readable(texts, field, shop, header)


def units_share(texts: pl.Series, units: quantities.Units) -> float:
    """How many of the texts are units; short words half of which are known as such are all taken for them: "szt."
    beside "kg" counts what is not weighed."""
    known = _share(texts, lambda text: units.find(text) is not None)
    short = texts.len() > 1 and share_true(texts.str.contains(_SHORT)) == 1
    return 1.0 if known >= HALF and short else known


def first_sizes(texts: pl.Series) -> pl.Series:
    """The texts with the first of several sizes alone: 30 cm of 30 x 20 x 2 cm."""
    return pl.Series([next(iter((sizes(text) or {"": text}).values())) for text in texts], dtype=pl.String).unique()


def _share(texts: pl.Series, test: Callable[[str], bool]) -> float:
    return sum(len(text) <= LONGEST and test(text) for text in texts) / texts.len()


def _looks_like_tags(texts: pl.Series, field: Field) -> float:
    if field.name == "event":
        return 1.0 - 0.8 * share_true(texts.str.contains(r"^[\d.,$€£-]+$"))
    tagged = texts.str.contains(r"\d") & ~texts.str.contains(_DATE_OR_MONEY)
    if field.kind == "tag":
        tagged = tagged & (texts.str.len_chars() <= 30) & ~texts.str.contains(r"\s\w+\s")
    return share_true(tagged)


def _readable(texts: pl.Series, field: Field, shop: Shop, header: str) -> float:
    mark = numbers.certain(texts)
    order = dates.order(texts) if field.kind == "date" else ""
    about = About(
        field,
        shop,
        column_formats.unit_in_header(header, field.kind),
        order if order in ("day", "month") else "day",
        mark if mark in (".", ",") else ".",
        header,
    )
    if field.kind == "quantity":
        frame = (
            texts.rename("text")
            .to_frame()
            .with_columns(pl.lit(None, pl.String).alias("unit"), pl.lit(None, pl.String).alias("lone"))
        )
        done = quantities.quantities(frame, about)
    else:
        done = READERS[field.kind].read(texts, about)
    open_codes = ["unit-missing", "date-order"]  # a question of the file, not a sign of the wrong field
    read = share_true(done["code"].is_null() | done["code"].is_in(open_codes))
    # 2.5 is a day only below such a header, 2.5. and 2 May are nothing else
    yearless, sure = done["code"] == "date-year", done["text"].str.contains(_DAY_WITHOUT_YEAR)
    read += 0.75 * share_true(yearless & ~sure) + share_true(yearless & sure)
    if field.kind in ("money", "number", "count") and texts.str.contains(_YEARS).all():
        read *= 0.5  # a column of years
    return read
