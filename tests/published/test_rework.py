"""What counts of rework, from files; reckoned by hand."""

from collections.abc import Callable
from datetime import date, timedelta

from tests.refreshed import AsAsked

Books = Callable[..., AsAsked]

SHOP = 'name = "Example"\ncurrency = "USD"\nstart = 2026-01-01\n\n[[changes]]\nname = "heater"\nday = 2026-03-01\n'
FIRST = date(2026, 1, 10)


def test_what_may_still_come_back_is_in_no_rate_and_a_coat_stands_on_a_pour(books: Books) -> None:
    """Twelve trays, one each tenth day; the first six with a coat of resin. Five of them came back 20 days after they
    were finished, so three in four findings take 20 days. On the last day on record the last two are 0 and 10 days
    old: too young to have passed. Of the ten others three came back before the change of March, two after it."""
    days = [FIRST + timedelta(days=10 * n) for n in range(12)]
    back = [0, 2, 4, 5, 7]
    con = books(
        SHOP,
        pieces="piece,product,species,finish,started,finished\n"
        + "".join(f"T-{n},tray,elm,oil,{day - timedelta(days=5)},{day}\n" for n, day in enumerate(days)),
        pours="date,pour,resin,piece,coat,deposited,unit\n"
        + "".join(f"{days[n] - timedelta(days=3)},R-{n},clear,T-{n},1,100,g\n" for n in range(6)),
        inspections="date,piece,defect,action\n"
        + "".join(f"{days[n] + timedelta(days=20)},T-{n},bubble,rework\n" for n in back),
    )
    query = "select level, pieces, events from quality.rate where factor = ? and measure = 'rework' order by level"
    assert con.execute(query, ["product"]).fetchall() == [("tray", 10, 5)]
    assert con.execute(query, ["coat"]).fetchall() == [("1", 6, 4)]
    young = con.execute("select piece from quality.piece where factor = 'shop' and young order by piece").fetchall()
    assert young == [("T-10",), ("T-11",)]
    assert con.execute("from quality.finding_time").fetchall() == [(20, 2, 0)]
    assert con.execute("select count(*) from quality.piece where factor = 'coat'").fetchall() == [(6,)]
    compared = con.execute(
        "select pieces_before, events_before, pieces_after, events_after from quality.change where measure = 'rework'"
    ).fetchall()
    # finished by 1 March: 10, 20 and 30 January, 9 and 19 February
    assert compared == [(5, 3, 5, 2)]
