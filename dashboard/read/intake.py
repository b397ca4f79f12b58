"""Settings, what came in, what the checks found, and the dictionary."""

from collections.abc import Iterable
from datetime import date
from typing import Any

import polars as pl

from dashboard.read.tables import Tables
from pipeline.pages.actions import SETTING_TABLES
from pipeline.records import RECORDS

_UNTIL = {
    table: f"from settings.{table} where from_date <= $day order by from_date, position, row_id"
    for table in ("rule", "person_rate", "pool", "channel")
}
_OF_IDS = {record: f"from records.{record} where list_contains($ids, row_id)" for record in RECORDS} | {
    f"settings.{table}": f"from settings.{table} where list_contains($ids, row_id)" for table in SETTING_TABLES
}
"""The rows of a kind of record with some row ids, by the name that `intake.row` has for the kind."""


SAID_BEFORE = {
    "supplier": "select supplier as said from records.purchases group by supplier order by max(on_date) desc, supplier",
    "channel": "select channel as said from records.sales group by channel order by max(on_date) desc, channel",
}
"""Fields that take any word, of which those on record are offered: the ones used last first."""


class Intake(Tables):
    """`settings`, `intake`, `records`, `checks`."""

    def shop(self) -> dict[str, Any]:
        """`settings.shop`: the shop and its rules."""
        return self._frame("from settings.shop").row(0, named=True)

    def settings_until(self, table: str, day: date) -> pl.DataFrame:
        """`settings.<table>`: what it said until a day, in order; the last row of a name is in force."""
        return self._frame(_UNTIL[table], day=day)

    def said_before(self, name: str) -> list[str]:
        """What rows on record say in a field of `SAID_BEFORE`, the last first."""
        return self._frame(SAID_BEFORE[name])["said"].drop_nulls().to_list()

    def files(self) -> pl.DataFrame:
        """`intake.file`: a table of a file with what became of its rows."""
        return self._frame("from intake.file order by file, sheet")

    def rows_by_fate(self) -> dict[str, int]:
        """`intake.file` over all files: how many are the maker's own and how many the tool wrote (log and mends), and
        what became of their rows; apart from those of files that are still to be settled, which are `asked`."""
        query = """
            with waiting as (
                select count(*) filter (where reason = 'no mapping') as number,
                    count(*) filter (where reason = 'planned') as planned
                from intake.ignored
            )
            select count(distinct file) filter (where file like 'inbox/%') as files,
                count(distinct file) filter (where file not like 'inbox/%') as written,
                sum(rows)::bigint as rows, sum(loaded)::bigint as loaded,
                sum(duplicate)::bigint as duplicate, sum(set_aside)::bigint as set_aside,
                (sum(ignored) - any_value(waiting.number) - any_value(waiting.planned))::bigint as ignored,
                any_value(waiting.planned)::bigint as planned,
                any_value(waiting.number)::bigint as asked,
                count(distinct file) filter (where how = 'unmapped') as files_asked
            from intake.file cross join waiting
        """
        return {name: value or 0 for name, value in self._frame(query).row(0, named=True).items()}

    def set_aside(self) -> pl.DataFrame:
        """`intake.rejected`: a row set aside, with the reason and what would mend it."""
        return self._frame("from intake.rejected order by file, sheet, row, occurrence, field")

    def questions(self) -> pl.DataFrame:
        """`intake.question`: what only the maker knows, most money first."""
        return self._frame("from intake.question order by position")

    def open_money(self) -> dict[str, int]:
        """`intake.question`: how many are open, and how much money hangs on them, that of each row once."""
        query = """
            select count(distinct question)::bigint as questions, coalesce(sum(first_cents), 0)::bigint as cents
            from intake.question_file
        """
        return self._frame(query).row(0, named=True)

    def question_choices(self) -> pl.DataFrame:
        """`intake.question_choice`: the answers that each question can have, in order."""
        return self._frame("select question, choice, label, does from intake.question_choice order by question, choice")

    def likely_words(self) -> pl.DataFrame:
        """`intake.likely_word`: words that can mean several things, with what each was taken for."""
        query = """
            select word, vocabulary, taken, max(others) as others, sum(rows)::bigint as rows, min(file) as file
            from intake.likely_word group by word, vocabulary, taken order by rows desc, word
        """
        return self._frame(query)

    def unused_columns(self) -> pl.DataFrame:
        """`intake.column`: the columns with something in them that are no field, with why."""
        query = """
            select file, sheet, header, why, rows from intake.column
            where field is null and rows > 0 and header <> '' order by why, file, sheet, header
        """
        return self._frame(query)

    def logged_days(self, days: int) -> pl.DataFrame:
        """`work.day`: the hours of those of the last days on which work is on record."""
        query = """
            select on_date as day, hours from work.day
            where on_date > (select max(on_date) from work.day) - $days::integer
            order by all
        """
        return self._frame(query, days=days)

    def unknown_words(self) -> pl.DataFrame:
        """`intake.unknown_word`: a word that no vocabulary knows."""
        return self._frame("from intake.unknown_word order by nearest is null, rows desc, word")

    def unlinked(self) -> pl.DataFrame:
        """`intake.unlinked`: a tag that leads nowhere, with where it stands."""
        query = """
            select tags.row_id, tags.record, tags.field, tags.tag, rows.file, rows.sheet, rows.row
            from intake.unlinked as tags left join intake.row as rows on rows.row_id = tags.row_id
            order by tags.record, tags.field, tags.tag, rows.file, rows.sheet, rows.row, tags.row_id
        """
        return self._frame(query)

    def findings(self) -> pl.DataFrame:
        """`checks.result`: a check that found something, errors first; what is asked stands with its answers."""
        query = "from checks.result where rows > 0 and name <> 'file_asks' order by severity, rows desc, name"
        return self._frame(query)

    def failed_estimates(self, schema: str) -> pl.DataFrame:
        """`intake.failed_estimate`: the estimates of a schema that could not be worked out."""
        query = "from intake.failed_estimate where split_part(estimate, '.', 1) = $schema order by estimate"
        return self._frame(query, schema=schema)

    def dictionary(self) -> pl.DataFrame:
        """The columns of the published tables with their meaning, in the database's own words."""
        query = """
            select columns.schema_name || '.' || columns.table_name as "table", tables.comment as table_meaning,
                columns.column_name as "column", columns.data_type as type, columns.comment as meaning
            from duckdb_columns() as columns
            join (
                select table_oid, comment from duckdb_tables()
                union all select view_oid, comment from duckdb_views()
            ) as tables on tables.table_oid = columns.table_oid
            -- `work` holds steps on the way to what is published
            where not columns.internal and columns.schema_name <> 'work'
                and columns.table_name not like '\\_%' escape '\\'
            order by "table", columns.column_index
        """
        return self._frame(query)

    def records(self, row_ids: Iterable[int]) -> dict[int, dict[str, Any]]:
        """The records and settings with these row ids, field by field; those of no file are left out."""
        wanted = sorted(set(row_ids))
        where = self._frame("select row_id, record from intake.row where list_contains($ids, row_id)", ids=wanted)
        found: dict[int, dict[str, Any]] = {}
        for (record,), part in where.group_by("record"):
            frame = self._frame(_OF_IDS[str(record)], ids=sorted(part["row_id"].to_list()))
            found |= {row["row_id"]: row for row in frame.iter_rows(named=True)}
        return found
