"""What a form offers to choose from: the shop's own words, the tags on record, and those logged a moment ago."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from dashboard import words
from dashboard.read.intake import SAID_BEFORE
from pipeline.pages import actions
from pipeline.records import MAKERS, RECORDS

if TYPE_CHECKING:
    from dashboard.view_context import Page

FIRST_TAG = {"piece": "T-001", "lot": "W-01", "pour": "R-001"}
"""An example of a tag, for a shop that has none yet."""

TAG_OF = {field.name: field.leads or field.makes for record in RECORDS.values() for field in record}
"""Field → what it has the tag of; "" where it is none of those on record."""

NEW = dict(makers[0] for makers in MAKERS.values())
"""The field of a record whose tag is new with each entry."""


TAKES = {"pieces": ("wood",), "pours": ("resin", "colourant")}
"""The categories of the lots that a record takes from; others take from any."""


@dataclass(frozen=True)
class FormOptions:
    """The words to choose from by field, tags as one says them (`P-1` → `P-1 · tray · walnut`), and those taken."""

    words: Mapping[str, Sequence[str]] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)
    taken: Mapping[str, frozenset[str]] = field(default_factory=dict)
    examples: Mapping[str, str] = field(default_factory=dict)
    currency: str = ""

    def said(self, word: str) -> str:
        """A word of a choice; a tag with what it is the tag of."""
        return self.names.get(word, word)


def form_options(folder: Path, page: "Page | None", record: str = "hours") -> FormOptions:
    """What the form of a record can offer. `page` is None while nothing is published."""
    offered = {name: list(list_) for name, list_ in actions.field_words(folder, record).items()}
    logged = _Logged(folder)
    pieces, lots = _pieces(page, logged, record), _lots(page, logged, record)
    pours = [*logged.own("pour"), *(page.book.pours().sort("on_date", descending=True)["pour"] if page else [])]
    items = [*logged.own("item"), *logged.own("resin"), *(page.book.lots()["item"].drop_nulls() if page else [])]
    if page:
        made = page.book.pieces()["product"].drop_nulls().unique(maintain_order=True)
        offered["product"] = [*offered.get("product", []), *made]
    tags_of = {"piece": list(pieces), "lot": list(lots)}
    tags = {name: list(tags_of[thing]) for name, thing in TAG_OF.items() if thing in tags_of}
    tags |= {"order_no": logged.own("order_no")}
    new = NEW.get(record, "")
    examples = {name: next(iter(tags.get(name) or []), FIRST_TAG[thing]) for name, thing in TAG_OF.items() if thing}
    newest = {"piece": _newest(page, logged), "pour": pours, "lot": list(lots)}
    if new:
        examples[new] = next_tag(newest[new]) or FIRST_TAG[new]
        tags.pop(new, None)  # it has a tag that nothing has yet
    offered["item"] = [*offered.get("item", []), *items]
    kinds = _kinds(folder, page)
    offered |= {name: _of_kind(offered["item"], kinds, name, logged) for name in ("resin", "colourant")}
    return FormOptions(
        {name: list(dict.fromkeys(word for word in list_ if word)) for name, list_ in (offered | tags).items()},
        pieces | lots,
        {"piece": frozenset(pieces), "pour": frozenset(pours)},
        examples,
        actions.shop_settings(folder)["shop"][0]["currency"],
    )


def with_said_before(known: FormOptions, folder: Path, page: "Page | None") -> FormOptions:
    """The same with whom one bought of and where one sold before: names that a phone is not told."""
    logged, words = _Logged(folder), dict(known.words)
    for name in SAID_BEFORE:
        told = [*words.get(name, []), *logged.own(name), *(page.book.said_before(name) if page else [])]
        words[name] = list(dict.fromkeys(told))
    return replace(known, words=words)


def last_sold_through(folder: Path, page: "Page | None") -> str:
    """The channel of the last sale, by the log, else by what is published; "" where nothing was sold."""
    return next(iter([*_Logged(folder).own("channel"), *(page.book.said_before("channel") if page else [])]), "")


def _kinds(folder: Path, page: "Page | None") -> dict[str, str]:
    """The category of each item, by the settings and by what was bought."""
    told = {row["name"]: row["category"] for row in actions.shop_settings(folder)["item"]}
    bought = page.book.lots().select("item", "category").drop_nulls().rows() if page else []
    return dict(bought) | {item: category for item, category in told.items() if category}


def _of_kind(items: Sequence[str], kinds: Mapping[str, str], category: str, logged: "_Logged") -> list[str]:
    """The items of one category: no wax is poured, no disc mixed in."""
    return [*logged.own(category), *(item for item in items if kinds.get(item) == category)]


def next_tag(tags: Sequence[str]) -> str:
    """The tag that follows on the newest, which is the first: `P-0403` → `P-0404`, past all that begin like it."""
    newest = re.fullmatch(r"(.*?)(\d+)", tags[0]) if tags else None
    if not newest:
        return ""
    alike = (re.fullmatch(rf"{re.escape(newest[1])}(\d+)", tag) for tag in tags)
    return f"{newest[1]}{max(int(tag[1]) for tag in alike if tag) + 1:0{len(newest[2])}}"


class _Logged:
    """What was logged a moment ago, the newest first."""

    def __init__(self, folder: Path) -> None:
        self.entries = list(reversed(actions.log_state(folder).entries))

    def own(self, name: str) -> list[str]:
        return [entry.cells[name].upper() if TAG_OF[name] else entry.cells[name] for entry in self._with(name)]

    def of(self, record: str, name: str, *told: str) -> dict[str, str]:
        """Tag → as one says it, of a record's entries."""
        return {
            entry.cells[name].upper(): words.tag(entry.cells[name].upper(), *(entry.cells.get(part) for part in told))
            for entry in self._with(name)
            if entry.record == record
        }

    def _with(self, name: str) -> list:
        return [entry for entry in self.entries if name in entry.cells]


def _pieces(page: "Page | None", logged: _Logged, record: str) -> dict[str, str]:
    """Every piece as one says it: what is in work first, for a sale what is done and not sold."""
    found = logged.of("pieces", "piece", "product", "species")
    if not page:
        return found
    offered = pl.col("finished").is_null()
    if record == "sales":
        offered = (pl.col("status") == "finished") & (pl.col("channels").list.len() == 0)
    made = page.book.pieces().sort(~offered, maintain_order=True).select("piece", "product", "species")
    return found | {tag: words.tag(tag, *told) for tag, *told in made.iter_rows()}


def _lots(page: "Page | None", logged: _Logged, record: str) -> dict[str, str]:
    """Every lot that a record can take from, as one says it: what is still there first."""
    found = logged.of("purchases", "lot", "item")
    if not page:
        return found
    bought = page.book.lots().filter(pl.col("lot").is_not_null()).sort(pl.col("on_hand") <= 0, maintain_order=True)
    if wanted := TAKES.get(record):
        bought = bought.filter(pl.col("category").is_in(wanted))
    bought = bought.unique("lot", maintain_order=True)
    return found | {tag: words.tag(tag, *told) for tag, *told in bought.select("lot", "item").iter_rows()}


def _newest(page: "Page | None", logged: _Logged) -> list[str]:
    """The tags of the pieces, those begun last first."""
    tags = list(logged.of("pieces", "piece"))
    if page:
        tags += page.book.pieces().sort("started", descending=True, nulls_last=True)["piece"].to_list()
    return tags
