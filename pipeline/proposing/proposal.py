"""A mapping proposed for each table of a file, as settled by the maker, with what it gives, and saved: the one way.

`propose` and `settled` make a `Proposal`, which shows what a refresh would make of the table; `save` puts its mapping
into `mappings/`. The command `map` and the Files page both do it so.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from pipeline import mapping
from pipeline.errors import UserError
from pipeline.mapping import HELPERS, column_of
from pipeline.mapping import Mapping as FileMapping
from pipeline.mapping.private_columns import private_columns
from pipeline.proposing.columns import ColumnGuess
from pipeline.proposing.preview import Preview, preview
from pipeline.proposing.question import Question
from pipeline.proposing.questions import MARGIN, about_tax, settled_by
from pipeline.proposing.several_records import split
from pipeline.proposing.suggestion import Suggestion, choose, choose_or_ask, suggest
from pipeline.proposing.taught_headers import taught_by
from pipeline.readers import MESSAGE, TextTable, read
from pipeline.readers.sections import without_sections
from pipeline.records import RECORDS
from pipeline.shop import Shop
from pipeline.writing import whole

WHY = {
    "private": "about a buyer; never stored",
    "not needed": "not needed",
    "not known": "not known",
    "helper": "helps to fill a field",
    "settled": "left out",
}
"""Why a column is left out, as it is told."""


@dataclass(frozen=True)
class Answers:
    """What the maker says of a table: the record that its rows are ("" = they are passed over), field → header, field →
    the text that all rows have, and how dates and decimals are written ("" = as the file shows)."""

    record: str = ""
    columns: Mapping[str, str] = field(default_factory=dict)
    constants: Mapping[str, str] = field(default_factory=dict)
    date_order: str = ""
    decimal: str = ""


@dataclass(frozen=True)
class Proposal:
    """What may be in one table of `file` (its path in the shop folder), by a mapping that can be saved.

    `used` is the mapping by which a refresh reads the table as things are, None where it asks. `columns` are guesses
    with the fields of `mapping`; `questions` are open; `preview` is what a refresh would make of it by `mapping`.
    """

    file: str
    sheet: str
    rows: int
    suggestion: Suggestion
    used: FileMapping | None
    mapping: FileMapping
    columns: tuple[ColumnGuess, ...]
    questions: tuple[Question, ...]
    preview: Preview

    @property
    def how(self) -> str:
        """How a refresh reads it: "mapping file", "canonical", "suggested", or "" where it asks."""
        if not self.used:
            return ""
        return self.used.name if self.used.name in ("canonical", "suggested") else "mapping file"

    @property
    def missing(self) -> tuple[str, ...]:
        """The needed fields that nothing fills."""
        filled = self.mapping.filled
        open_ = [f for f in (RECORDS[self.mapping.record] if self.mapping.record else ()) if f.name not in filled]
        return tuple(f.name for f in open_ if f.needed(filled) and not f.numbered)

    @property
    def torn(self) -> str:
        """The record that it could be as well; "" where the content decides."""
        scores, own = self.suggestion.records, self.mapping.record
        others = sorted((name for name in scores if name != own), key=lambda n: (-scores[n], n))
        open_ = any(question.kind == "record" for question in self.questions) and scores.get(own)
        return others[0] if open_ and scores[own] - scores[others[0]] < MARGIN else ""

    @property
    def unsettled(self) -> str:
        """Why it can't be saved as it is; "" where it can."""
        if self.torn:
            return f"This could be {self.mapping.record} or {self.torn}."
        headers = list(self.mapping.columns.values())
        twice = sorted({header for header in headers if headers.count(header) > 1})
        if twice:
            return f"“{twice[0]}” can fill one field only."
        if self.missing:
            return f"{RECORDS[self.mapping.record].meaning.rstrip('.')} needs: {', '.join(self.missing)}."
        return ""


def propose(
    shop: Shop, path: Path, record: str = "", answers: Mapping[str, str] | None = None, sheet: str | None = None
) -> list[Proposal]:
    """A proposal for each table of a file that holds rows; `record` says which record it is.

    `answers` says of a field or a helping column which column it is, or else the text that the field has in all rows.
    `sheet` is the one that is asked about; without it all are.

    `path` is as given or within the shop folder. Raises `UserError` for a file outside of the shop's inbox, one that
    can't be read, one without rows, or an unknown record, field or sheet.
    """
    tables = _read(shop, path, record)
    if sheet is not None:
        tables = _of_sheet(tables, sheet)
    return [_proposed(table, record, answers or {}) for table in tables]


def _of_sheet(tables: list["_Table"], sheet: str) -> list["_Table"]:
    found = [table for table in tables if table.text.sheet.casefold() == sheet.strip().casefold()]
    if not found:
        known = ", ".join(f"“{table.text.sheet}”" for table in tables if table.text.sheet)
        mend = f"Its sheets with rows: {known}." if known else "It has no sheets: leave --sheet out."
        raise UserError(f"There is no sheet “{sheet}” with rows in this file.", tables[0].file, mend)
    return found


def settled(shop: Shop, path: Path, sheet: str, answers: Answers) -> Proposal:
    """The proposal for one table by what the maker says of all its columns.

    What a mapping of this table says beside (units, tax in the price …) stays. Raises `UserError` as `propose` does,
    and for a column that is about a buyer.
    """
    tables = {table.text.sheet: table for table in _read(shop, path, answers.record)}
    if sheet not in tables:
        raise UserError("This table is no longer in the file.", f"{path}, {sheet}", "Refresh, then look again.")
    table = tables[sheet]
    own = table.own
    how = replace(
        own if own and own.record == answers.record else FileMapping(""),
        record=answers.record,
        columns={name: header for name, header in answers.columns.items() if header},
        constants={name: text.strip() for name, text in answers.constants.items() if text.strip()},
        date_order=answers.date_order,
        decimal=answers.decimal,
        rest="",
        left_out=(),
    )
    used = choose(table.mappings, table.below, table.text, shop)
    return _by(table, suggest(table.text, shop, table.below, answers.record), used, how, ())


def save(shop: Shop, proposal: Proposal) -> Path:
    """Save the mapping of a table; gives its path. A mapping of the same name goes to `<name>.toml.before`.

    Raises `UserError`, and saves nothing, where a table could be two records, has too little of any, fills two fields
    by one column, or would take in what is about a buyer.
    """
    _settled_enough(proposal)
    path = whole.make_folder(shop.path("mappings")) / f"{proposal.mapping.name}.toml"
    text = mapping_text(proposal)
    mapping.checked(proposal.mapping.name, text, path)  # what can't be read must not come into place
    with whole.refusals_told(path):
        before = path.read_bytes() if path.exists() else None
    if before not in (None, text.encode()):
        whole.write_ahead(path.with_name(f"{path.name}.before"), before)
    whole.write(path, text)
    return path


def save_new(shop: Shop, proposals: list[Proposal]) -> list[Path]:
    """Save all tables of a file, none of which may have a mapping of its own; gives the paths."""
    for found in proposals:
        _settled_enough(found)
        path = shop.path("mappings") / f"{found.mapping.name}.toml"
        if path.exists():
            what = "This table has a mapping of its own already; it stays as it is."
            raise UserError(what, str(path), "Edit or delete it.")
    return [save(shop, found) for found in proposals]


def without_notes(proposals: list[Proposal]) -> list[Proposal]:
    """The proposals; of several sheets, one of which no column is known, such as a page of notes, is passed over."""
    return [_passed_over(p) if len(proposals) > 1 and not p.mapping.columns else p for p in proposals]


def _settled_enough(proposal: Proposal) -> None:
    if proposal.unsettled:
        where = ", ".join(filter(None, (proposal.file, proposal.sheet)))
        raise UserError(proposal.unsettled, where, "Choose its columns, or say what all rows have.")


def _passed_over(proposal: Proposal) -> Proposal:
    return replace(
        proposal, mapping=replace(proposal.mapping, record="", columns={}, constants={}, helpers={}), questions=()
    )


def mapping_text(proposal: Proposal) -> str:
    """The mapping file: the mapping, and as comments what is open and which columns it leaves out."""
    record = RECORDS.get(proposal.mapping.record)
    also = (
        'tax_included = true, repeats_total = true, supersedes = ["order_no"], year = 2026, '
        "[constants], [units], [signs], [helpers]"
    )
    unused = [f"{guess.header or guess.column} ({WHY[guess.why]})" for guess in proposal.columns if not guess.field]
    notes = [
        f"How {proposal.file} is read. Change what is wrong.",
        *([f"Fields of {record.name}: {', '.join(f.name for f in record)}"] if record else []),
        *(f"Open: {question.ask}" for question in proposal.questions),
        *([f"Can be said too: {also}"] if record else []),
        *([f"Left out: {', '.join(unused)}"] if unused and record else []),
    ]
    return "".join(f"# {' '.join(note.split())}\n" for note in notes) + "\n" + mapping.dump(proposal.mapping)


# --- how a proposal comes about ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Table:
    """A table of a file, with the shop and all its mappings; `several` = the file has other tables with rows."""

    shop: Shop
    file: str
    text: TextTable
    mappings: list[FileMapping]
    several: bool

    @property
    def below(self) -> str:
        return self.file.removeprefix("inbox/")

    @property
    def own(self) -> FileMapping | None:
        return mapping.own(self.mappings, self.below, self.text.sheet)

    @property
    def name(self) -> str:
        """What its mapping is called: the words of file and sheet, unless another table's mapping is called so."""
        if self.own:
            return self.own.name
        return mapping.new_name(self.mappings, self.below, self.text.sheet if self.several else "")


def _read(shop: Shop, path: Path, record: str) -> list[_Table]:
    """The tables of a file of the inbox that hold rows."""
    if record and record not in RECORDS:
        raise UserError(f"There is no record {record!r}.", str(path), f"Choose one of: {', '.join(RECORDS)}.")
    found = place(shop, path)
    file = named(shop, found)
    mappings = mapping.load(shop.path("mappings"))
    held = read(found, **shop.reading)
    held = held if record else split(held, file.removeprefix("inbox/"), mappings, shop)
    tables = [t for t in (t if t.part else without_sections(t) for t in held) if t.frame.height]
    if not tables:
        said = next((str(t.dialect[MESSAGE]) for t in held if MESSAGE in t.dialect), "There are no rows in this file.")
        raise UserError(said, file, f"See how it reads with: kerfledger peek {path}")
    return [_Table(shop, file, table, mappings, len(tables) > 1) for table in tables]


def place(shop: Shop, path: Path) -> Path:
    """Where a file of the inbox stands, named as given or within the shop folder. `UserError` for any other."""
    found = next((p.resolve() for p in (path, shop.folder / path) if p.is_file()), None)
    if found is None:
        raise UserError("There is no such file.", str(path), f"Name a file in {shop.path('inbox')}.")
    if not found.is_relative_to(shop.folder.resolve() / "inbox"):
        raise UserError("This file is not in the shop's inbox.", str(path), f"Copy it to {shop.path('inbox')} first.")
    return found


def named(shop: Shop, place: Path) -> str:
    """A file's path in the shop folder."""
    return place.relative_to(shop.folder.resolve()).as_posix()


def _proposed(table: _Table, record: str, answers: Mapping[str, str]) -> Proposal:
    part = table.text.part
    said = record or (part.record if part and part.record in RECORDS else "")
    suggestion = suggest(table.text, table.shop, table.below, said, taught=taught_by(table.mappings))
    how, questions = suggestion.mapping, suggestion.questions
    for name, text in answers.items():
        how, questions = _answered(table, suggestion, how, questions, name, text)
    used, asked = choose_or_ask(table.mappings, table.below, table.text, table.shop)
    if used and not record and not answers and (not asked or used.rest):
        how, questions = used, asked
    return _by(table, suggestion, used, how, questions)


def _by(
    table: _Table, suggestion: Suggestion, used: FileMapping | None, how: FileMapping, questions: tuple[Question, ...]
) -> Proposal:
    """The proposal to read a table by a mapping, which becomes one for this table alone."""
    files, sheets = mapping.exact(table.below, table.text.sheet)
    own = replace(how, name=table.name, files=files, sheets=sheets, headings=table.text.names)
    return Proposal(
        file=table.file,
        sheet=table.text.sheet,
        rows=table.text.frame.height,
        suggestion=suggestion,
        used=used,
        mapping=own,
        columns=tuple(_guesses(table.text, suggestion.columns, own)),
        questions=questions,
        preview=preview(table.shop, table.file, table.text, own),
    )


def _answered(
    table: _Table, suggestion: Suggestion, how: FileMapping, questions: tuple[Question, ...], name: str, text: str
) -> tuple[FileMapping, tuple[Question, ...]]:
    """The mapping in which a field is the column of this header, or else has this text in all rows, and what stays
    open."""
    fields = [field_.name for field_ in RECORDS[how.record]]
    if how.record in HELPERS.get(name, {}):
        filled = HELPERS[name][how.record]
        still = [
            q for q in questions if q.field not in filled and not any(settled_by(q, each, text) for each in filled)
        ]
        return _helped(table, how, name, text), tuple(still)
    if name not in fields:
        raise UserError(f"{how.record} have no field {name!r}.", table.file, f"Known ones: {', '.join(fields)}.")
    column = column_of(table.text, text)
    guess = next((guess for guess in suggestion.columns if guess.column == column), None)
    if guess and guess.why == "private":
        raise UserError(f"“{text}” is about a buyer.", table.file, "Such columns are never stored.")
    columns = {f: h for f, h in how.columns.items() if f != name and (not guess or column_of(table.text, h) != column)}
    constants = {f: t for f, t in how.constants.items() if f != name}
    header = (guess.header or guess.column) if guess else ""
    (columns if header else constants)[name] = header or text
    open_ = {(q.kind, q.about): q for q in questions if not settled_by(q, name, header)}
    if guess:
        open_ |= {(q.kind, q.about): q for q in about_tax(how.record, replace(guess, field=name))}
    return replace(how, columns=columns, constants=constants), tuple(open_.values())


def _helped(table: _Table, how: FileMapping, role: str, text: str) -> FileMapping:
    """The mapping with a helping column; it is no field then."""
    column = column_of(table.text, text)
    if column is None:
        known = ", ".join(f"“{name}”" for name in table.text.names if name.strip())
        raise UserError(f"There is no column “{text}” for {role}.", table.file, f"Its columns: {known}.")
    if column in private_columns(table.text):
        raise UserError(f"“{text}” is about a buyer.", table.file, "Such columns are never stored.")
    columns = {name: header for name, header in how.columns.items() if column_of(table.text, header) != column}
    return replace(how, columns=columns, helpers={**how.helpers, role: text})


def _guesses(table: TextTable, guesses: tuple[ColumnGuess, ...], how: FileMapping) -> Iterator[ColumnGuess]:
    """The columns with the fields that the mapping gives them."""
    fields = {column_of(table, header): name for name, header in how.columns.items()}
    for guess in guesses:
        name = fields.get(guess.column, "")
        if name == guess.field:
            yield guess
        elif guess.why == "need" and not name:  # asked about, and none until it is told
            yield replace(guess, field="", why="not known")
        else:
            yield replace(guess, field=name, confidence=1.0 if name else 0.0, why="settled")
