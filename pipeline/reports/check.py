"""What is wrong or missing in a shop, most valuable mend first."""

import json
import shlex
from collections import Counter
from collections.abc import Iterator
from typing import Any

import duckdb

from pipeline.errors import FAULTS
from pipeline.reports.finding import Finding, rows_of
from pipeline.reports.missing import missing
from pipeline.reports.questions import WAITS
from pipeline.reports.words import amount, count, masked, place, share

TOLD_IN_DETAIL = {
    "estimate_failed",
    "file_asks",
    "sale_without_tax",
    "row_set_aside",
    "word_unknown",
    "tag_unlinked",
    "receipt_missing",
    "wood_without_lot",
    "unit_unusable",
}
"""Checks whose rows stand among the findings in more detail."""

KEYS = ("row_id", "lot_id")
"""Columns of a check's rows that are of use to the tool alone."""

NOTHING = "Nothing found to mend, in what was looked at."

SET_ASIDE = "set aside: "

SHOWN = 6
"""How many findings of one kind the text shows."""


def findings(con: duckdb.DuckDBPyConnection, shop: str = "DIR", digits: int = 2) -> list[Finding]:
    """All findings of a published database: errors first, then by the cost that rests on them, then by rows.

    `shop` is the folder as the maker named it, for the commands that the findings name; `digits` the number of decimals
    of its money.
    """
    found = [
        *_checks(con, digits),
        *_failed_estimates(con),
        *_unread(con, shop),
        *_set_aside(con),
        *_unused_mends(con),
        *_events_left_out(con),
        *_idle_mappings(con),
        *_taught_in_vain(con),
        *_unmeasured(con, shop),
        *_unmeasured_uses(con),
        *_imputed(con),
        *missing(con),
        *_unknown_words(con),
        *_unlinked(con),
        *_questions(con, shop),
        *_likely_words(con),
        *_unused_columns(con),
        *_untaxed(con),
    ]
    return sorted(found, key=lambda f: (f.severity != "error", -(f.cents or 0), -f.rows, f.kind, f.what))


def text(found: list[Finding], digits: int, shop: str = "DIR") -> Iterator[str]:
    """The findings as lines of text; `digits` is the number of decimals of the shop's money, `shop` the folder."""
    errors = sum(finding.severity == "error" for finding in found)
    yield f"{count(errors, 'error')}, {count(len(found) - errors, 'warning')}" if found else NOTHING
    shown: Counter[str] = Counter()
    for finding in found:
        shown[finding.kind] += 1
        if shown[finding.kind] > SHOWN:
            continue
        worth = f", {amount(finding.cents, digits)} rests on it" if finding.cents else ""
        yield f"{finding.severity:<8} {finding.what} ({finding.rows:,}{worth})"
        if finding.where:
            yield f"         {finding.where}"
        if finding.mend:
            yield f"         → {finding.mend}"
    for kind, number in shown.items():
        if number > SHOWN:
            yield f"and {number - SHOWN} more of the kind: {kind} (--json lists them all)"
    if any(finding.kind.startswith(SET_ASIDE) for finding in found):
        command = f"kerfledger check {shop} --set-aside mended.csv"
        yield f"To mend rows set aside without touching their files: {command}"


def kept_out(con: duckdb.DuckDBPyConnection) -> Iterator[str]:
    """What was masked when the files were read, as a line of text; none where nothing was."""
    number = sum(row.get("masked") or 0 for row in rows_of(con, "from intake.file"))
    if number:
        yield masked(number)


def _checks(con: duckdb.DuckDBPyConnection, digits: int) -> Iterator[Finding]:
    found = """
        select result.*, because.file, because.sheet, because.row
        from checks.result
        left join intake.row as because on because.row_id = cast(example ->> 'row_id' as bigint)
        where rows > 0
    """
    for row in rows_of(con, found):
        if row["name"] not in TOLD_IN_DETAIL:
            where = _example(row, digits)
            yield Finding(row["severity"], row["name"], row["meaning"], row["rows"], where=where)


def _example(row: dict[str, Any], digits: int) -> str:
    """A row kept as JSON, to be read: `{"piece":"T-1","worth_cents":250}` → `such as piece T-1, worth 2.50`."""
    cells = json.loads(row["example"] or "{}")
    told = [_cell(name, cell, digits) for name, cell in cells.items() if cell is not None and name not in KEYS]
    if row["file"]:
        told.append(place(row["file"], row["sheet"], row["row"]))
    return f"such as {', '.join(told)}" if told else ""


def _cell(name: str, cell: Any, digits: int) -> str:
    for end, write in (("cents", lambda cents: amount(cents, digits)), ("_share", share)):
        if name.endswith(end) and isinstance(cell, int | float):
            return f"{name.removesuffix(end).replace('_', ' ').strip()} {write(cell)}".strip()
    return f"{name.replace('_', ' ')} {cell[:7] if name == 'month' else cell}"


def _failed_estimates(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    query = "select estimate, meaning, fault from intake.failed_estimate order by estimate"
    for row in rows_of(con, query):
        what = (
            f"An estimate could not be worked out: {row['meaning'].partition(': ')[2].rstrip('.') or row['estimate']}"
        )
        mend = "Your files are not at fault, and all other figures stand. Please report the line above."
        yield Finding("warning", "estimate_failed", what, 1, None, f"{row['estimate']}: {row['fault']}", mend)


def _unread(con: duckdb.DuckDBPyConnection, shop: str) -> Iterator[Finding]:
    query = "select * from intake.file where how in ('unreadable', 'unmapped') order by file, sheet"
    for row in rows_of(con, query):
        where = place(row["file"], row["sheet"], None)
        if row["how"] == "unreadable":
            yield Finding("error", "unreadable", "A file can't be read", 1, None, where, row["message"])
        else:
            mend = f"Settle it with: kerfledger map {shop} {shlex.quote(row['file'])}"
            where += f": {row['message']}" if row["message"] else ""
            yield Finding(
                "warning", "unmapped", "A file whose columns are still to be settled", row["rows"], None, where, mend
            )


def _set_aside(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    query = """
        select code, count(*) as rows,
            arg_min(
                {'file': file, 'sheet': sheet, 'row': row, 'occurrence': occurrence, 'text': text},
                (file, sheet, row, occurrence)
            ) as first
        from intake.rejected group by code order by code
    """
    for row in rows_of(con, query):
        fault, first = FAULTS[row["code"]], row["first"]
        where = (
            f"{place(first['file'], first['sheet'], first['row'], first['occurrence'])}: {first['text'] or '(empty)'}"
        )
        yield Finding("error", f"{SET_ASIDE}{row['code']}", fault.title, row["rows"], None, where, fault.mend)


def _unused_mends(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    """Mended rows that stand for no row any more. One that was mended again is as it should be."""
    query = """
        select reason, count(*) as rows,
            arg_min({'file': file, 'sheet': sheet, 'row': row}, (file, sheet, row)) as first
        from intake.ignored where reason like 'mend: %' and reason not like '%again%' group by reason order by reason
    """
    for row in rows_of(con, query):
        why = row["reason"].removeprefix("mend: ")
        where = place(row["first"]["file"], row["first"]["sheet"], row["first"]["row"])
        mend = "Take the mend out, or write out the rows set aside anew and mend them there."
        yield Finding("warning", "mend not used", f"A mended row is not used: {why}", row["rows"], None, where, mend)


def _events_left_out(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    """What a calendar holds that is no record: what is planned, and times of an event beyond the limit."""
    query = """
        select reason, file, sheet, count(*) as rows, arg_min({'row': row, 'text': text}, (row, text)) as first
        from intake.ignored where reason = 'planned' or reason like 'repeats more than %' group by all order by all
    """
    for row in rows_of(con, query):
        where = f"first in {place(row['file'], row['sheet'], row['first']['row'])}: {row['first']['text'] or ''}"
        what, mend = f"An event {row['reason']}: later ones are not read", "End the rule, or split the event by year."
        if row["reason"] == "planned":
            what = "Planned: after the day of the refresh, or after its calendar was written"
            mend = "Nothing is lost: export the calendar again once it is done, and refresh."
        yield Finding("warning", row["reason"].partition(" more")[0], what, row["rows"], None, where, mend)


def _unmeasured(con: duckdb.DuckDBPyConnection, shop: str) -> Iterator[Finding]:
    """Lots of unknown size, such as a kit: what is used of the item can't be taken from them, and is free."""
    query = """
        select lot.item, item.unit = 'mg' as by_weight, count(*) as rows, sum(lot.landed_cents)::bigint as cents,
            min({'file': place.file, 'sheet': place.sheet, 'row': place.row}) as first
        from work.lot as lots
        join cost.lot on lot.lot_id = lots.lot_id
        join work.item on item.item = lots.item
        left join intake.row as place on place.row_id = lots.lot_id
        where lots.flow like 'unmeasured/%' group by lot.item, item.unit order by lot.item
    """
    for row in rows_of(con, query):
        what = f"How much {row['item']} was bought is not known: it costs no piece anything"
        size = "900 g" if row["by_weight"] else "500 ml"
        mend = f"Say how much is in one: kerfledger answer {shop}. Or write its quantity with a unit, such as {size}."
        first = row["first"]
        where = place(first["file"], first["sheet"], first["row"]) if first["file"] else ""
        yield Finding("error", "size not known", what, row["rows"], row["cents"], where, mend)


def _unmeasured_uses(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    """What is used by weight or volume though it is bought by the piece, or the other way: that is free too."""
    query = """
        select told.item, item.unit, count(*) as rows,
            (select sum(landed_cents)::bigint from cost.lot where lot.item = told.item) as cents,
            arg_min({'file': place.file, 'sheet': place.sheet, 'row': place.row}, told.row_id) as first
        from work.unmeasured as told
        join work.item on item.item = told.item
        left join intake.row as place on place.row_id = told.row_id
        where 'unmeasured/' || told.item not in (select flow from work.lot)
        group by told.item, item.unit order by told.item
    """
    for row in rows_of(con, query):
        kept = {"mg": "by weight", "ul": "by volume", "mm3": "by volume"}.get(
            row["unit"], f"by the unit `{row['unit']}`"
        )
        what = f"How much {row['item']} was used is not known, as it is kept {kept}: it costs no piece anything"
        mend = "Write it so, or its `kit`, `kit_weight` or `density` in [[items]] of shop.toml, as the case may be."
        first = row["first"]
        where = place(first["file"], first["sheet"], first["row"]) if first["file"] else ""
        yield Finding("error", "size not known", what, row["rows"], row["cents"], where, mend)


def _idle_mappings(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    query = "select file, text from intake.ignored where reason = 'a mapping that fits no file' order by all"
    for row in rows_of(con, query):
        mend = "Mend its `files` (patterns on the path below inbox, as bank/*.csv), or take the mapping out."
        where = f"{row['file']}: files = {row['text']}"
        yield Finding("warning", "mapping unused", "A mapping whose pattern fits no file", 1, None, where, mend)


def _taught_in_vain(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    query = "select file, row, text from intake.ignored where reason = 'taught in vain' order by all"
    for row in rows_of(con, query):
        where = f"{row['file']}, line {row['row']}: {row['text']}"
        what, mend = "Words taught in vain", "Mend the line; all others are in use."
        yield Finding("warning", "words taught in vain", what, 1, None, where, mend)


def _imputed(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    """Material that was used but never bought: a receipt is missing."""
    query = """
        select item, count(distinct row_id) as rows, sum(cents)::bigint as cents, min(on_date) as first_on
        from cost.movement where from_place = 'imputed' and item is not null
            and row_id not in (select row_id from work.unasked)
        group by item order by item
    """
    for row in rows_of(con, query):
        mend = f"Find the receipt for {row['item']} from before {row['first_on']}, or count what is still there."
        what = f"More {row['item']} used than bought"
        yield Finding("warning", "missing receipt", what, row["rows"], row["cents"], mend=mend)


def _unknown_words(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    query = """
        select vocabulary, word, max(nearest) as nearest, sum(rows)::bigint as rows, min(file) as file
        from intake.unknown_word group by vocabulary, word order by vocabulary, word
    """
    for row in rows_of(con, query):
        near = f"Did you mean {row['nearest']}? " if row["nearest"] else ""
        mend = f"{near}Settle it in [words.{row['vocabulary']}] of shop.toml."
        what = f"Not a known {row['vocabulary']}: {row['word']}"
        yield Finding("warning", "unknown word", what, row["rows"], None, row["file"], mend)


def _unlinked(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    query = """
        select rtrim(unlinked.field, 's') as kind, unlinked.tag, count(*) as rows,
            string_agg(distinct unlinked.record, ', ' order by unlinked.record) as records,
            min({'file': place.file, 'sheet': place.sheet, 'row': place.row}) as first
        from intake.unlinked as unlinked left join intake.row as place on place.row_id = unlinked.row_id
        group by kind, unlinked.tag order by all
    """
    for row in rows_of(con, query):
        first = row["first"]
        what = f"No {row['kind']} has the tag {row['tag']}, which {row['records']} name"
        where = f"first in {place(first['file'], first['sheet'], first['row'])}"
        mend = f"Mend the tag, or add the {row['kind']}; its own row may have been set aside."
        yield Finding("warning", "unlinked", what, row["rows"], None, where, mend)


def _questions(con: duckdb.DuckDBPyConnection, shop: str) -> Iterator[Finding]:
    """What only the maker can say, once for the whole shop."""
    query = """
        select question.*, min(place.file) as file, count(distinct place.file) - 1 as more
        from intake.question left join intake.question_file as place on place.question = question.question
        where question.wants = '' -- what it wants is a finding of its own
        group by all order by position
    """
    for row in rows_of(con, query):
        mend = f"Choose an answer: kerfledger answer {shop}"
        more = f" and {count(row['more'], 'file')} more" if row["more"] > 0 else ""
        where = f"{row['file']}{more}; {WAITS[row['holds']]}"
        cents = row["worth_cents"] or None
        yield Finding("warning", f"asked: {row['kind']}", row["ask"], row["rows"], cents, where, mend)


TAKEN_OTHERWISE = {
    **dict.fromkeys(
        ("channel", "kind"), "name a column for it in the file's mapping, or say it there under [constants]"
    ),
    "receipt": "write its day and supplier in the line",
    "year": "say `year` in the file's mapping",
    "tag": "write its tag in full in the file, or mend the row on the Files page",
    "date": 'say `date_order = "day"` or `"month"` in the file\'s mapping',
}
"""Vocabulary of what is taken from elsewhere than a word → how another meaning is said."""

ITEMS_SHOWN = 3


def _likely_words(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    """Words that were taken for the likeliest of several things; of items, by the category that their words say."""
    query = """
        select
            vocabulary, taken, max(others) as others, sum(rows)::bigint as rows, min(file) as file,
            list(distinct word order by word) as words
        from intake.likely_word
        group by vocabulary, taken, case when vocabulary <> 'category' then word end
        order by vocabulary, taken, words
    """
    for row in rows_of(con, query):
        named = ", ".join(f"“{word}”" for word in row["words"][:ITEMS_SHOWN])
        more = len(row["words"]) - ITEMS_SHOWN
        several, are = f"{named} and {more} more" if more > 0 else named, "are" if len(row["words"]) > 1 else "is"
        what = f"{several} {are} taken for {row['taken']}: it can also mean {row['others']}"
        said = TAKEN_OTHERWISE.get(row["vocabulary"], f"say so in [words.{row['vocabulary']}] of shop.toml")
        yield Finding("warning", "likely word", what, row["rows"], None, row["file"], f"If it is, {said}.")


def _unused_columns(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    """Columns with something in them that are no field of the record, once a header."""
    query = """
        select header, why, sum(rows)::bigint as rows, min(file) as file
        from intake.column where why in ('no field is like it', 'not sure which field it is') and rows > 0
        group by header, why order by header, why
    """
    for row in rows_of(con, query):
        what = f"The column “{row['header']}” is not used: {row['why']}"
        mend = "If it is one, name it under [columns] of the file's mapping."
        yield Finding("warning", "column not used", what, row["rows"], None, row["file"], mend)


def _untaxed(con: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    """Channels whose sales have no tax, in a regime that has one: no file states it, and no rate is set."""
    for row in rows_of(con, "from money.untaxed order by channel"):
        what = f"{row['channel']}: {row['sales']:,} {'sale' if row['sales'] == 1 else 'sales'} without tax"
        mend = "Set its rate in [[tax_rates]] of shop.toml (0 where none is due), and prices_hold_tax in [[channels]] "
        mend += "where they have it in them. What is owed is for your tax office to say."
        yield Finding("warning", "sale_without_tax", what, row["sales"], None, f"first on {row['first_on']}", mend)
