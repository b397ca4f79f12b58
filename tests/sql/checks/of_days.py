"""Examples of checks on the days of records: before the books begin, after the refresh, far ahead, turned, too long."""

from datetime import date

from tests.sql.checks.example import JAN, Examples, Given, day, fires, holds

SHOP = [{"start": JAN, "as_of": day(6, 30)}]
A_YEAR = [{"row_id": n, "on_date": day(n, 1)} for n in range(1, 8)]
FAR = day(8, 3, 2062)
BEFORE = [{"on_date": day(12, 31, 2025)}] * 2


def _dated(late: date) -> list[tuple[str, dict[str, object]]]:
    """A record of each kind whose last day is this one."""
    plain = ("purchases", "hours", "pours", "usage", "inspections", "sales", "payments", "moves", "counts")
    dated: list[tuple[str, dict[str, object]]] = [(record, {"on_date": late}) for record in plain]
    dated += [("pieces", {"started": day(5, 1), name: late}) for name in ("finished", "ended", "listed")]
    dated += [("pieces", {"started": late}), ("orders", {"on_date": late})]
    return [*dated, ("orders", {"on_date": day(5, 1), "cancelled": late})]


def _written(record: str, *days: date, first: str = "on_date") -> dict[str, Given]:
    """Rows of a file, one below the other, with these days."""
    numbered = list(enumerate(days, 1))
    return {
        f"records__{record}": [{"row_id": n, first: each} for n, each in numbered],
        "intake__row": [{"row_id": n, "file": "inbox/a.csv", "sheet": "", "row": n + 1} for n, _ in numbered],
    }


WEEK = [day(3, number) for number in (2, 2, 3, 4, 6, 9)]
"""In order, but for a row that a test puts among them."""
MAY = day(5, 3)
"""The third of May, which is the fifth of March with day and month turned."""


EXAMPLES: Examples = {
    "before_start": [
        fires(
            "records from before the shop's books begin, counted by kind",
            [
                {"record": record, "records": 2, "first_on": day(12, 31, 2025), "start": JAN}
                for record in ("purchases", "hours", "pours", "usage")
            ]
            + [{"record": "sales", "records": 2, "first_on": day(3, 1, 2025), "start": JAN}],
            settings__shop=SHOP,
            records__purchases=[*BEFORE, {"on_date": JAN}],
            records__hours=BEFORE,
            records__pours=BEFORE,
            records__usage=BEFORE,
            records__sales=[{"on_date": day(3, 1, 2025)}, {"on_date": day(4, 1, 2025)}],
        ),
        holds("the first day itself", settings__shop=SHOP, records__sales=[{"on_date": JAN}]),
    ],
    "day_after_refresh": [
        *(
            fires(
                f"{record}: {row}",
                [{"record": record, "row_id": 7, "on_date": day(7, 1)}],
                settings__shop=SHOP,
                **{f"records__{record}": [row | {"row_id": 7}]},
            )
            for record, row in _dated(day(7, 1))
        ),
        holds(
            "of the very day, and without a day",
            settings__shop=SHOP,
            records__sales=[{"row_id": 7, "on_date": day(6, 30)}],
            records__pieces=[{"row_id": 8, "started": day(6, 30)}, {"row_id": 9, "piece": "T-1"}],
        ),
    ],
    "day_far_ahead": [
        *(
            fires(
                f"{record}: {row}",
                [{"record": record, "row_id": 30, "on_date": FAR}],
                **(
                    {"records__hours": A_YEAR}
                    | {f"records__{record}": [*(A_YEAR if record == "hours" else []), row | {"row_id": 30}]}
                ),
            )
            for record, row in _dated(FAR)
        ),
        fires(
            "after the last of two rests, five records, two of them of one day",
            [{"record": "sales", "row_id": 40 + n, "on_date": day(9, max(n, 2), 2029)} for n in range(1, 6)],
            records__hours=[*A_YEAR, *({"row_id": 10 + n, "on_date": day(9, n, 2027)} for n in range(1, 7))],
            records__sales=[{"row_id": 40 + n, "on_date": day(9, max(n, 2), 2029)} for n in range(1, 6)],
        ),
        fires(
            "one sale decades after all others",
            [{"record": "sales", "row_id": 9, "on_date": FAR}],
            records__hours=A_YEAR,
            records__sales=[{"row_id": 9, "on_date": FAR}],
        ),
        fires(
            "a piece that was finished, and an order called off, far ahead",
            [
                {"record": "pieces", "row_id": 10, "on_date": FAR},
                {"record": "orders", "row_id": 11, "on_date": day(8, 4, 2062)},
            ],
            records__hours=A_YEAR,
            records__pieces=[{"row_id": 10, "started": day(3, 1), "finished": FAR}],
            records__orders=[{"row_id": 11, "on_date": day(3, 1), "cancelled": day(8, 4, 2062)}],
        ),
        holds(
            "a year's rest to the day",
            records__hours=A_YEAR,
            records__sales=[{"row_id": 9, "on_date": day(7, 1, 2027)}],
        ),
        holds(
            "a shop that rested for longer, and went on with more than a handful of records",
            records__hours=A_YEAR,
            records__sales=[{"row_id": 10 + n, "on_date": day(9, n, 2027)} for n in range(1, 7)],
        ),
    ],
    "day_turned": [
        *(
            fires(
                f"{record}: a day of May in a week of March",
                [{"record": record, "row_id": 5, "on_date": MAY, "fits": day(3, 5)}],
                **_written(record, *WEEK[:4], MAY, *WEEK[4:], first="started" if record == "pieces" else "on_date"),
            )
            for record in sorted({record for record, _ in _dated(MAY)})
        ),
        fires(
            "two rows of that day, in a file with the newest first",
            [{"record": "sales", "row_id": 3, "on_date": MAY, "fits": day(3, 5)}],
            **_written("sales", *WEEK[:3:-1], MAY, MAY, *WEEK[3::-1]),
        ),
        fires(
            "the first row of a file",
            [{"record": "sales", "row_id": 1, "on_date": MAY, "fits": day(3, 5)}],
            **_written("sales", MAY, *(day(3, number) for number in (6, 7, 8, 9, 10))),
        ),
        holds(
            "a day that has its place, or that has none turned either, or that is the same turned",
            **_written("sales", *WEEK, MAY, day(2, 4), day(6, 6), *(day(6, number) for number in range(7, 28))),
        ),
        holds(
            "a file in no order",
            **_written("sales", day(3, 4), day(3, 2), day(3, 6), MAY, day(3, 5), day(3, 3), day(3, 9)),
        ),
        holds("too few rows to know an order by", **_written("sales", day(3, 2), MAY, day(3, 9), day(3, 10))),
    ],
    "day_too_long": [
        fires(
            "25 hours of one person on a day",
            [{"person": "Ada", "on_date": JAN, "hours": 25.0, "records": 2, "row_id": 2}],
            settings__person_rate=[{"name": "Ada"}, {"name": "Bo"}],
            records__hours=[
                {"row_id": 1, "on_date": JAN, "person": "Ada", "seconds": 12 * 3600, "attended": True},
                {"row_id": 2, "on_date": JAN, "person": "Ada", "seconds": 13 * 3600, "attended": True},
            ],
        ),
        fires(
            "more hours of nobody than all of the shop's people have",
            [{"person": None, "on_date": JAN, "hours": 49.0, "records": 1, "row_id": 1}],
            settings__person_rate=[{"name": "Ada"}, {"name": "Bo"}, {"name": "Bo"}],
            records__hours=[{"row_id": 1, "on_date": JAN, "seconds": 49 * 3600, "attended": True}],
        ),
        holds(
            "24 hours, two people of a day, nobody's 48 hours for two people, and a machine left alone",
            settings__person_rate=[{"name": "Ada"}, {"name": "Bo"}],
            records__hours=[
                {"row_id": 1, "on_date": JAN, "person": "Ada", "seconds": 24 * 3600, "attended": True},
                {"row_id": 2, "on_date": JAN, "person": "Bo", "seconds": 3600, "attended": True},
                {"row_id": 3, "on_date": JAN, "person": "Ada", "seconds": 3600, "attended": False},
                {"row_id": 4, "on_date": JAN, "seconds": 48 * 3600, "attended": True},
            ],
        ),
    ],
    "run_too_long": [
        fires(
            "a comma for thousands: 1,234 hours",
            [{"machine": "kiln", "on_date": JAN, "hours": 1234.0, "records": 1, "row_id": 1}],
            records__hours=[
                {"row_id": 1, "on_date": JAN, "machine": "kiln", "seconds": 1234 * 3600, "attended": False}
            ],
        ),
        holds(
            "a long weekend, two machines of a day, and a person's hours, which are another check's",
            records__hours=[
                {"row_id": 1, "on_date": JAN, "machine": "kiln", "seconds": 96 * 3600, "attended": False},
                {"row_id": 2, "on_date": JAN, "machine": "router", "seconds": 30 * 3600, "attended": False},
                {"row_id": 3, "on_date": JAN, "machine": "kiln", "seconds": 97 * 3600, "attended": True},
            ],
        ),
    ],
}
