"""What no check has looked at, in sentences: they stand below the findings, however few these are."""

from collections.abc import Iterator

import duckdb

from pipeline.reports.finding import rows_of

CASH = "Not looked at: cash. It is what the records add up to, and no bank balance confirms it."
SOME_CASH = "Not looked at: cash of {open} of {all} months, at whose end no bank balance stands in the records."
FILES = "Not looked at: what stands in no file. A receipt, a sale or an hour that nobody wrote down is not missed."
SHELF = "Not looked at: the shelf. Nothing on it was ever counted, so that stock is what the records leave."
WASTE = "Not looked at: waste of resin. No pour says what it deposited, so that all but its rests counts as good."

PROVED = """
select count(*) filter (where proof.month is null) as open, count(*) as "all"
from work.month left join money.cash_proof as proof on proof.month = month.month
"""
PURCHASES = "from records.purchases where quantity is not null limit 1"
COUNTS = "from records.counts where worth_cents is null limit 1"
POURS = "from records.pours limit 1"
DEPOSITS = "from records.pours where deposited is not null limit 1"


def not_looked_at(con: duckdb.DuckDBPyConnection) -> Iterator[str]:
    """A sentence for each matter that the findings of a published database say nothing about."""
    (cash,) = rows_of(con, PROVED)
    if cash["open"]:
        yield CASH if cash["open"] == cash["all"] else SOME_CASH.format(**cash)
    if rows_of(con, PURCHASES) and not rows_of(con, COUNTS):
        yield SHELF
    if rows_of(con, POURS) and not rows_of(con, DEPOSITS):
        yield WASTE
    yield FILES
