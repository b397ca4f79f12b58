"""What each piece made or lost in a month, a year and all so far, and why it lost."""

from datetime import date

import duckdb
import pytest

from pipeline.database import open_newest

JAN, MAR, NEXT = date(2026, 1, 1), date(2026, 3, 1), date(2027, 2, 1)
MONTHS = [{"month": month} for month in (JAN, MAR, NEXT)]
NONE = dict.fromkeys(
    ("labour_cents", "own_labour_cents", "overhead_cents", "material_cents", "selling_cents", "seconds"), 0
)
ENTRY = NONE | {"month": JAN, "units": 1, "revenue_cents": 0, "cost_of_sales_cents": 0, "row_id": 1}


@pytest.fixture(scope="module")
def con(demo) -> duckdb.DuckDBPyConnection:
    return open_newest(demo)


def earned(model, entries, lines=()):
    rows = model("money.piece_margin", work__month=MONTHS, money___margin_entry=entries, money___line_sum=list(lines))
    return {(row["piece"], row["product"], row["span"], row["month"]): row for row in rows}


def test_a_piece_has_one_result_for_each_span(model) -> None:
    """Sold in January; a fee of its sale comes in March, and it is sold again the next year."""
    tray = ENTRY | {"piece": "T-1", "product": "tray"}
    found = earned(
        model,
        [
            tray | {"revenue_cents": 9000, "cost_of_sales_cents": 5000, "selling_cents": 1000, "seconds": 7200},
            tray | {"month": MAR, "units": 0, "selling_cents": 600},
            tray | {"month": NEXT, "revenue_cents": 100, "cost_of_sales_cents": 5000, "seconds": 899, "row_id": 2},
        ],
    )
    left = {key[2:]: (row["units"], row["margin_cents"], row["margin_per_hour_cents"]) for key, row in found.items()}
    # by hand: 9,000 - 5,000 - 1,000; less 600 over two hours; and 100 - 5,000, of which 899 seconds say nothing
    assert left == {
        ("month", JAN): (1, 3000, 1500),
        ("month", MAR): (0, -600, None),
        ("month", NEXT): (1, -4900, None),
        ("year", JAN): (1, 2400, 1200),
        ("year", date(2027, 1, 1)): (1, -4900, None),
        ("all", NEXT): (2, -2500, -1111),  # over 8,099 seconds
    }
    shares = {key[2:]: row["covered_share"] for key, row in found.items()}
    assert shares["month", NEXT] == pytest.approx(100 / 5000)
    assert shares["month", MAR] is None  # nothing of it was sold then


def test_what_belongs_to_no_piece_stands_by_itself(model) -> None:
    fees = {"month": JAN, "line": "selling", "place": "period", "cents": -700}
    found = earned(
        model,
        [
            ENTRY | {"piece": "T-1", "product": "tray", "revenue_cents": 500},
            ENTRY | {"piece": None, "product": "card", "revenue_cents": 300},
        ],
        [fees, fees | {"place": "sold", "cents": -40}, fees | {"line": "losses", "cents": -9}],
    )
    month = {key[:2]: row["margin_cents"] for key, row in found.items() if key[2] == "month"}
    assert month == {("T-1", "tray"): 500, (None, "card"): 300, (None, None): -700}


def test_the_pieces_of_the_demo_come_to_its_months_and_years(con: duckdb.DuckDBPyConnection) -> None:
    """What was left over all pieces is the gross margin less selling, of each month that is not closed."""
    wrong = con.execute(
        """
        with pieces as (
            select month, sum(margin_cents) as cents from money.piece_margin where span = 'month' group by month
        )
        select month from money.month left join pieces using (month)
        where not closed and gross_margin_cents - selling_cents <> coalesce(pieces.cents, 0)
        """
    ).fetchall()
    assert wrong == []
    sums = con.execute(
        "select span, sum(margin_cents), sum(units), sum(hours) from money.piece_margin group by span"
    ).fetchall()
    assert len(sums) == 3
    assert len({(cents, units, round(hours, 6)) for _, cents, units, hours in sums}) == 1


def test_products_come_to_their_pieces_in_every_span(con: duckdb.DuckDBPyConnection) -> None:
    wrong = con.execute(
        """
        with pieces as (
            select product as level, span, month, sum(margin_cents) as cents, sum(hours) as hours
            from money.piece_margin where product is not null group by all
        )
        select * from pieces
        full join (from money.margin where factor = 'product' and span <> 'twelve months') as products
            using (level, span, month)
        where cents is distinct from margin_cents or abs(pieces.hours - products.hours) > 1e-6
        """
    ).fetchall()
    assert wrong == []


SOLD = {
    "span": "all", "month": JAN, "units": 1, "net_revenue_cents": 1000, "cost_of_sales_cents": 800,
    "labour_cents": 400, "material_cents": 300, "selling_cents": 0, "product": "tray", "row_id": 1,
}  # fmt: skip


def sold(*changed: dict[str, object], usual: int = 3) -> list[dict[str, object]]:
    pieces = [{"piece": f"T-{n}"} for n in range(usual)] + [{"piece": f"T-{9 - n}"} | c for n, c in enumerate(changed)]
    return [SOLD | piece for piece in pieces]


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"net_revenue_cents": 100}, "sold for less than usual"),
        ({"labour_cents": 900, "cost_of_sales_cents": 1800}, "took more work than usual"),
        ({"material_cents": 900, "cost_of_sales_cents": 1800}, "took more material than usual"),
        ({"selling_cents": 900}, "cost more to sell than usual"),
    ],
)
def test_a_piece_that_lost_money_names_what_lies_furthest_from_the_usual(model, change, reason) -> None:
    (row,) = model("money.lost", money__piece_margin=sold(change))
    assert (row["piece"], row["reason"]) == ("T-9", reason)


def test_rework_of_a_run_explains_no_more_than_the_units_sold_bear(model) -> None:
    run = [{"piece": "T-9", "quantity": 4, "rework_cents": 1200}]
    (row,) = model("money.lost", money__piece_margin=sold({"net_revenue_cents": 100}), cost__piece=run)
    # a quarter of the rework is 300, and the price is 900 short
    assert (row["reason"], row["reason_cents"]) == ("sold for less than usual", 900)


def test_where_all_pieces_lose_the_usual_price_is_to_blame(model) -> None:
    pieces = [row | {"net_revenue_cents": 500} for row in sold()]
    assert {row["reason"] for row in model("money.lost", money__piece_margin=pieces)} == {
        "the usual price does not pay the usual cost"
    }


def test_a_loss_is_one_of_its_span_and_the_usual_that_of_all_time(model) -> None:
    pieces = [
        *sold({"net_revenue_cents": 700}),
        SOLD | {"piece": "T-9", "span": "month", "net_revenue_cents": 700},
        SOLD | {"piece": "T-1", "span": "month"},
        SOLD | {"piece": "T-2", "span": "month", "month": MAR, "units": 0, "net_revenue_cents": 0},
    ]
    rows = model("money.lost", money__piece_margin=pieces)
    assert {(row["piece"], row["span"], row["lost_cents"], row["reason_cents"]) for row in rows} == {
        ("T-9", "all", 100, 300),
        ("T-9", "month", 100, 300),
    }
