"""Examples of checks on the months: result, lines, margins and cash say the same."""

from tests.sql.checks.example import FEB, JAN, MAR, Examples, fires, holds


def line(month: object, name: str, cents: int, own: bool = False) -> dict[str, object]:
    return {"month": month, "line": name, "cents": cents, "own_labour": own}


def moved(on_date: object, from_place: str, to_place: str, cents: int) -> dict[str, object]:
    return {"on_date": on_date, "from_place": from_place, "to_place": to_place, "cents": cents}


def bridge(part: str, cents: int, other: int) -> dict[str, object]:
    return {
        "month": FEB, "against": "month before", "part": part, "cents": cents,
        "result_cents": 500, "other_result_cents": other,
    }  # fmt: skip


EXAMPLES: Examples = {
    "bridge_adds_up": [
        fires(
            "parts of 199 for a difference of 200",
            [{"month": FEB, "against": "month before", "cents": 199, "difference_cents": 200}],
            money__bridge=[bridge("prices", 249, 300), bridge("units", -50, 300)],
        ),
        holds(
            "parts that add up, and another comparison of the same month",
            money__bridge=[
                bridge("prices", 250, 300),
                bridge("units", -50, 300),
                bridge("units", 100, 400) | {"against": "year before"},
            ],
        ),
    ],
    "cash_below_zero": [
        fires(
            "a cent less than none",
            [{"month": JAN, "cash_end_cents": -1}],
            money__month=[{"month": JAN, "cash_end_cents": -1}],
        ),
        holds("none at all", money__month=[{"month": JAN, "cash_end_cents": 0, "cash_start_cents": -5}]),
    ],
    "cash_reconciles": [
        fires(
            "a way without cash, and cash that nothing led to",
            [
                {"month": JAN, "way_cents": 30, "cash_cents": None, "by_month": 0},
                {"month": FEB, "way_cents": None, "cash_cents": 30, "by_month": 30},
            ],
            money__month=[
                {"month": month, "cash_start_cents": 0} | {"cash_end_cents": end}
                for month, end in ((JAN, 0), (FEB, 30))
            ],
            money__cash_month=[
                {"month": JAN, "line": "result", "cents": 20},
                {"month": JAN, "line": "bills owed", "cents": 10},
                {"month": FEB, "line": "cash", "cents": 30},
            ],
        ),
        fires(
            "a way that ends elsewhere, cash that changed otherwise, and a month without any way",
            [
                {"month": JAN, "way_cents": 90, "cash_cents": 100, "by_month": 100},
                {"month": FEB, "way_cents": 100, "cash_cents": 100, "by_month": 101},
                {"month": MAR, "way_cents": None, "cash_cents": None, "by_month": 7},
            ],
            money__month=[
                {"month": JAN, "cash_start_cents": 0, "cash_end_cents": 100},
                {"month": FEB, "cash_start_cents": 100, "cash_end_cents": 201},
                {"month": MAR, "cash_start_cents": 0, "cash_end_cents": 7},
            ],
            money__cash_month=[
                {"month": JAN, "line": "result", "cents": 90},
                {"month": JAN, "line": "cash", "cents": 100},
                {"month": FEB, "line": "result", "cents": 100},
                {"month": FEB, "line": "cash", "cents": 100},
            ],
        ),
        holds(
            "result and bills lead to the cash; a month in which nothing happened",
            money__month=[
                {"month": JAN, "cash_start_cents": 50, "cash_end_cents": 150},
                {"month": FEB, "cash_start_cents": 150, "cash_end_cents": 150},
            ],
            money__cash_month=[
                {"month": JAN, "line": "result", "cents": 130},
                {"month": JAN, "line": "bills owed", "cents": -30},
                {"month": JAN, "line": "cash", "cents": 100},
            ],
        ),
    ],
    "margins_add_up": [
        fires(
            "two sales that no product has, and a product's cost that no line has",
            [
                {"month": JAN, "revenue_cents": 900, "by_product": None, "cost_cents": None, "cost_by_product": None},
                {"month": FEB, "revenue_cents": None, "by_product": None, "cost_cents": None, "cost_by_product": 5},
            ],
            money__month_line=[line(JAN, "revenue", 500), line(JAN, "revenue", 400)],
            money__margin=[
                {"factor": "product", "span": "month", "month": FEB, "cost_of_sales_cents": 3},
                {"factor": "product", "span": "month", "month": FEB, "cost_of_sales_cents": 2},
            ],
        ),
        fires(
            "a sale that no product has, a cost that none has, a month that the lines don't have",
            [
                {"month": JAN, "revenue_cents": 900, "by_product": 800, "cost_cents": 300, "cost_by_product": 300},
                {"month": FEB, "revenue_cents": 900, "by_product": 900, "cost_cents": 300, "cost_by_product": None},
                {
                    "month": MAR,
                    "revenue_cents": None,
                    "by_product": 5,
                    "cost_cents": None,
                    "cost_by_product": None,
                },
            ],
            money__month_line=[
                line(month, name, cents)
                for month in (JAN, FEB)
                for name, cents in (("revenue", 1000), ("refunds", -100), ("cost of sales", -300))
            ],
            money__margin=[
                {"factor": "product", "span": "month", "month": month, "net_revenue_cents": net}
                | {"cost_of_sales_cents": cost}
                for month, net, cost in ((JAN, 800, 300), (FEB, 900, None), (MAR, 5, None))
            ],
        ),
        holds(
            "two products together, other factors and spans beside them, and a month with only rent",
            money__month_line=[
                line(JAN, "revenue", 1000),
                line(JAN, "cost of sales", -300),
                line(JAN, "selling", -50),
                line(FEB, "not absorbed", -70),
            ],
            money__margin=[
                {"factor": factor, "span": span, "month": JAN, "net_revenue_cents": net, "cost_of_sales_cents": cost}
                for factor, span, net, cost in (
                    ("product", "month", 600, 100),
                    ("product", "month", 400, 200),
                    ("channel", "month", 7, 7),
                    ("product", "year", 7, 7),
                )
            ],
        ),
    ],
    "pieces_add_up": [
        fires(
            "a cent that no piece left, selling that only the lines have, and a piece of a month without lines",
            [
                {"month": JAN, "cents": 500, "by_piece": 499},
                {"month": FEB, "cents": -80, "by_piece": None},
                {"month": MAR, "cents": None, "by_piece": 5},
            ],
            money__month_line=[line(JAN, "revenue", 900), line(JAN, "cost of sales", -400), line(FEB, "selling", -80)],
            money__piece_margin=[
                {"span": "month", "month": JAN, "piece": "T-1", "margin_cents": 499},
                {"span": "month", "month": MAR, "piece": "T-2", "margin_cents": 5},
            ],
        ),
        holds(
            "two pieces and selling of none, other spans beside them, and a month with only rent",
            money__month_line=[
                line(JAN, "revenue", 1000),
                line(JAN, "refunds", -100),
                line(JAN, "cost of sales", -300),
                line(JAN, "selling", -50),
                line(JAN, "losses", -70),
                line(FEB, "not absorbed", -900),
            ],
            money__piece_margin=[
                {"span": "month", "month": JAN, "piece": "T-1", "margin_cents": 650},
                {"span": "month", "month": JAN, "piece": "T-2", "margin_cents": -60},
                {"span": "month", "month": JAN, "piece": None, "margin_cents": -40},
                {"span": "year", "month": JAN, "piece": "T-1", "margin_cents": 650},
            ],
        ),
    ],
    "cash_differs": [
        fires(
            "the first month that disagrees",
            [{"month": FEB, "books_cash_cents": 90, "statement_cents": 80, "differs_cents": 10}],
            money__cash_proof=[
                {"month": JAN, "books_cash_cents": 50, "statement_cents": 50, "differs_cents": 0},
                {"month": FEB, "books_cash_cents": 90, "statement_cents": 80, "differs_cents": 10},
                {"month": MAR, "books_cash_cents": 70, "statement_cents": 60, "differs_cents": 10},
            ],
        ),
        holds(
            "proved",
            money__cash_proof=[{"month": JAN, "books_cash_cents": 50, "statement_cents": 50, "differs_cents": 0}],
        ),
    ],
    "sale_without_tax": [
        fires(
            "by channel, in a regime that has a tax",
            [{"channel": "fair", "sales": 2, "first_on": JAN}],
            settings__rule=[{"from_date": JAN, "tax_regime": "vat"}],
            settings__channel=[{"name": "web", "from_date": JAN, "tax_by": "channel"}],
            records__sales=[
                {"channel": "fair", "on_date": JAN, "quantity": 1},
                {"channel": "fair", "on_date": FEB, "quantity": 1},
                {"channel": "fair", "on_date": FEB, "quantity": -1},
                {"channel": "web", "on_date": FEB, "quantity": 1},
                {"channel": "shop", "on_date": FEB, "quantity": 1, "sales_tax_cents": 0},
            ],
        ),
        holds(
            "where there is no tax",
            settings__rule=[{"from_date": JAN, "tax_regime": "none"}],
            settings__channel=[{"name": "web", "from_date": JAN, "tax_by": "channel"}],
            records__sales=[{"channel": "fair", "on_date": JAN, "quantity": 1}],
        ),
    ],
    "twin_unsure": [
        fires(
            "one that could be another's",
            [
                {
                    "row_id": 5,
                    "payment": "payout",
                    "on_date": FEB,
                    "amount_cents": 90,
                    "taken_for": "sale",
                    "records": 2,
                    "first_on": JAN,
                }
            ],
            money__twin=[
                {"payment_id": 5, "kind": "sale", "row_id": 1, "on_date": JAN, "sure": False},
                {"payment_id": 5, "kind": "sale", "row_id": 2, "on_date": FEB, "sure": False},
                {"payment_id": 6, "kind": "pool", "row_id": 3, "on_date": JAN, "sure": True},
            ],
            records__payments=[
                {"row_id": 5, "kind": "payout", "on_date": FEB, "amount_cents": 90},
                {"row_id": 6, "kind": "supplier", "on_date": FEB, "amount_cents": 40},
            ],
        ),
        holds(
            "the only one that fits",
            money__twin=[{"payment_id": 6, "kind": "pool", "row_id": 3, "on_date": JAN, "sure": True}],
            records__payments=[{"row_id": 6, "kind": "supplier", "on_date": FEB, "amount_cents": 40}],
        ),
    ],
    "result_adds_up": [
        fires(
            "sold by a line alone, a cost by the trace alone, and one by a line alone; what came back to the trace",
            [
                {"month": JAN, "sold_cents": 40, "by_sales": 0, "cost_cents": 0, "by_trace": 0},
                {"month": FEB, "sold_cents": 0, "by_sales": 0, "cost_cents": 0, "by_trace": 7},
                {"month": MAR, "sold_cents": 0, "by_sales": 0, "cost_cents": 5, "by_trace": 0},
            ],
            work__month=[{"month": JAN}, {"month": FEB}, {"month": MAR}],
            money__line=[line(JAN, "revenue", 40), line(MAR, "selling", -5)],
            cost__moved=[
                moved(FEB, "stock", "waste", 7),
                moved(FEB, "stock", "waste", 9),
                moved(FEB, "waste", "stock", 9),
                moved(FEB, "pool", "period", 11),
                moved(FEB, "period", "pool", 11),
            ],
        ),
        fires(
            "a sale that no line has, and a cent of cost that the trace doesn't",
            [
                {"month": JAN, "sold_cents": 0, "by_sales": 4000, "cost_cents": 0, "by_trace": 0},
                {"month": FEB, "sold_cents": 0, "by_sales": 0, "cost_cents": 301, "by_trace": 300},
            ],
            work__month=[{"month": JAN}, {"month": FEB}],
            records__sales=[{"row_id": 1, "on_date": JAN, "price_cents": 4000}],
            money__line=[line(FEB, "cost of sales", -301)],
            cost__moved=[moved(FEB, "piece", "sold", 300)],
        ),
        holds(
            "quantity, discount, shipping and refund; each way out of the shop and back; what is no cost of the trace",
            work__month=[{"month": JAN}],
            records__sales=[
                {"row_id": 1, "on_date": JAN, "price_cents": 1000, "quantity": 3, "discount_cents": 100},
                {"row_id": 2, "on_date": JAN, "price_cents": 1000, "shipping_charged_cents": 50},
                {"row_id": 3, "on_date": JAN, "price_cents": 1000, "quantity": -1},
            ],
            money__line=[
                line(JAN, "revenue", 3950),
                line(JAN, "refunds", -1000),
                line(JAN, "cost of sales", -250),
                line(JAN, "not absorbed", -40),
                line(JAN, "shortages", -5),
                line(JAN, "write-downs", -99),
                line(JAN, "other income", 77),
            ],
            cost__moved=[
                moved(JAN, "piece", "sold", 300),
                moved(JAN, "sold", "piece", 50),
                moved(JAN, "pool", "period", 40),
                moved(JAN, "stock", "waste", 5),
                moved(JAN, "piece", "own use", 500),
            ],
        ),
    ],
    "result_and_lines": [
        fires(
            "a result without any line, and lines whose sum is another",
            [
                {"month": JAN, "result_cents": 7, "books_result_cents": 7, "cents": None, "books_cents": None},
                {"month": FEB, "result_cents": 30, "books_result_cents": 30, "cents": 60, "books_cents": 60},
                {"month": MAR, "result_cents": 9, "books_result_cents": 9, "cents": None, "books_cents": None},
            ],
            money__month=[
                {"month": month, "closed": False, "result_cents": cents, "books_result_cents": cents}
                for month, cents in ((JAN, 7), (FEB, 30), (MAR, 9))
            ],
            money__month_line=[line(FEB, "revenue", 30), line(FEB, "selling", 30)],
            money__earlier=[
                {"month": MAR, "own_labour": False, "cents": 6},
                {"month": MAR, "own_labour": False, "cents": 4},
            ],
        ),
        fires(
            "another result, and another one of the books",
            [
                {"month": JAN, "result_cents": 101, "books_result_cents": 130, "cents": 100, "books_cents": 130},
                {"month": FEB, "result_cents": 100, "books_result_cents": 100, "cents": 100, "books_cents": 130},
            ],
            money__month=[
                {"month": JAN, "closed": False, "result_cents": 101, "books_result_cents": 130},
                {"month": FEB, "closed": False, "result_cents": 100, "books_result_cents": 100},
            ],
            money__month_line=[
                row
                for month in (JAN, FEB)
                for row in (line(month, "revenue", 130), line(month, "selling", -30, own=True))
            ],
        ),
        holds(
            "what was written up late for a closed month counts in the next; a closed month stands; one without lines",
            money__month=[
                {"month": JAN, "closed": True, "result_cents": 999, "books_result_cents": 999},
                {"month": FEB, "closed": False, "result_cents": 80, "books_result_cents": 110},
                {"month": MAR, "closed": False, "result_cents": 0, "books_result_cents": 0},
            ],
            money__month_line=[
                line(JAN, "revenue", 500),
                line(FEB, "revenue", 130),
                line(FEB, "selling", -30, own=True),
            ],
            money__earlier=[{"closed_month": JAN, "month": FEB, "own_labour": False, "cents": -20}],
        ),
    ],
}
