"""A month in a handful of figures."""

from datetime import date

import pytest

from pipeline.reports.brief import last_month


@pytest.mark.parametrize(("last", "told"), [(date(2025, 12, 31), "December"), (date(2025, 12, 30), "November")])
def test_the_last_month_is_the_last_whole_one(books, last: date, told: str) -> None:
    con = books(
        'name = "Bench"\ncurrency = "EUR"\nstart = 2025-10-01\n',
        hours=f"date,hours,operation\n2025-11-05,1,cleaning\n{last},1,cleaning\n",
    )
    assert next(last_month(con, 2)) == f"Bench, {told} 2025, in EUR"
