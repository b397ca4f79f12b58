"""A shop's money has the decimals that ISO 4217 gives its currency, from the file to the published figure."""

import pytest

from pipeline.reports.words import amount
from pipeline.shop import load


@pytest.mark.parametrize(
    ("currency", "written", "stored", "shown"),
    # ISO 4217, list one: three decimals, two, none
    [("KWD", "12.345", 12345, "12.345"), ("EUR", "12.34", 1234, "12.34"), ("UGX", "12,345", 12345, "12,345")],
)
def test_money_has_the_decimals_of_its_currency(books, tmp_path, currency, written, stored, shown) -> None:
    con = books(
        f'currency = "{currency}"\nstart = 2026-01-01\n[[people]]\nname = "Ada"\nrate = 3\n'
        '[[pools]]\nname = "rent"\ndriver = "labour cost"\nbasis = "budget"\nrate = 0.5\n',
        purchases=f'date,item,category,amount\n2026-03-02,oil,finish,"{written}"\n',
    )
    assert con.execute("select amount_cents from records.purchases").fetchall() == [(stored,)]
    (minor, paid), *_ = con.execute(
        "select minor_units, rate_cents from settings.shop cross join settings.person_rate"
    ).fetchall()
    assert paid == 3 * minor
    digits = load(tmp_path / "books").minor_digits
    assert (minor, amount(stored, digits)) == (10**digits, shown)
