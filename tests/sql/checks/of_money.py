"""Examples of checks on the months: result, lines, margins, cash and stock say the same."""

from tests.sql.checks.example import FEB, JAN, Examples, day, fires, holds

ALL_COSTS = ("cost of sales", "selling", "not absorbed", "shortages", "spoilage")


def line(month: object, name: str, cents: int, own: bool = False) -> dict[str, object]:
    return {"month": month, "line": name, "cents": cents, "own_labour": own}


def moved(on_date: object, from_place: str, to_place: str, cents: int) -> dict[str, object]:
    return {"on_date": on_date, "from_place": from_place, "to_place": to_place, "cents": cents}


def stage(month: object, name: str, opening: int, closing: int) -> dict[str, object]:
    return {"month": month, "stage": name, "opening_cents": opening, "closing_cents": closing}


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
            "a way that ends elsewhere, cash that changed otherwise, and a month without any way",
            [
                {"month": JAN, "way_cents": 90, "cash_cents": 100, "by_month": 100},
                {"month": FEB, "way_cents": 100, "cash_cents": 100, "by_month": 101},
                {"month": day(3, 1), "way_cents": None, "cash_cents": None, "by_month": 7},
            ],
            money__month=[
                {"month": JAN, "cash_start_cents": 0, "cash_end_cents": 100},
                {"month": FEB, "cash_start_cents": 100, "cash_end_cents": 201},
                {"month": day(3, 1), "cash_start_cents": 0, "cash_end_cents": 7},
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
    "held_is_stock": [
        fires(
            "another cost, another own pay, another write-down",
            [
                {"month": JAN, "stage": name, "closing_cents": 100, "held_cents": held}
                | {"written_down_cents": 10, "by_piece": down}
                for name, held, down in (("in progress", 99, 10), ("finished", 100, 10), ("consigned", 100, None))
            ],
            money__stock_month=[
                {"month": JAN, "stage": name, "closing_cents": 100, "own_labour_cents": 40, "written_down_cents": 10}
                for name in ("in progress", "finished", "consigned")
            ],
            money__held=[
                {"month": JAN, "stage": "in progress", "cost_cents": 99, "own_labour_cents": 40},
                {"month": JAN, "stage": "finished", "cost_cents": 100, "own_labour_cents": 41},
                {"month": JAN, "stage": "consigned", "cost_cents": 100, "own_labour_cents": 40},
            ],
            money__write_down=[
                {"month": JAN, "stage": name, "written_down_cents": 10} for name in ("in progress", "finished")
            ],
        ),
        holds(
            "the pieces of a stage together; none; materials, which no piece holds; a write-down of what has gone",
            money__stock_month=[
                {"month": JAN, "stage": name, "closing_cents": cents, "own_labour_cents": own, "written_down_cents": 0}
                for name, cents, own in (("finished", 100, 40), ("consigned", 0, 0), ("materials", 900, 0))
            ],
            money__held=[
                {"month": JAN, "stage": "finished", "cost_cents": 60, "own_labour_cents": 40},
                {"month": JAN, "stage": "finished", "cost_cents": 40, "own_labour_cents": 0},
            ],
            money__write_down=[{"month": JAN, "stage": "gone", "written_down_cents": 5}],
        ),
    ],
    "margins_add_up": [
        fires(
            "a sale that no product has, a cost that none has, a month that the lines don't have",
            [
                {"month": JAN, "revenue_cents": 900, "by_product": 800, "cost_cents": 300, "cost_by_product": 300},
                {"month": FEB, "revenue_cents": 900, "by_product": 900, "cost_cents": 300, "cost_by_product": None},
                {
                    "month": day(3, 1),
                    "revenue_cents": None,
                    "by_product": 5,
                    "cost_cents": None,
                    "cost_by_product": None,
                },
            ],
            money__line=[
                line(month, name, cents)
                for month in (JAN, FEB)
                for name, cents in (("revenue", 1000), ("refunds", -100), ("cost of sales", -300))
            ],
            money__margin=[
                {"factor": "product", "span": "month", "month": month, "net_revenue_cents": net}
                | {"cost_of_sales_cents": cost}
                for month, net, cost in ((JAN, 800, 300), (FEB, 900, None), (day(3, 1), 5, None))
            ],
        ),
        holds(
            "two products together, other factors and spans beside them, and a month with only rent",
            money__line=[
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
    "result_adds_up": [
        fires(
            "a sale that no line has, and a cent of cost that the trace doesn't",
            [
                {"month": JAN, "sold_cents": 0, "by_sales": 4000, "cost_cents": 0, "by_trace": 0},
                {"month": FEB, "sold_cents": 0, "by_sales": 0, "cost_cents": 301, "by_trace": 300},
            ],
            work__month=[{"month": JAN}, {"month": FEB}],
            records__sales=[{"row_id": 1, "on_date": JAN, "price_cents": 4000}],
            money__line=[line(FEB, "cost of sales", -301)],
            cost__trace=[moved(FEB, "piece", "sold", 300)],
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
            cost__trace=[
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
            "another result, and another one of the books",
            [
                {"month": JAN, "result_cents": 101, "books_result_cents": 130, "cents": 100, "books_cents": 130},
                {"month": FEB, "result_cents": 100, "books_result_cents": 100, "cents": 100, "books_cents": 130},
            ],
            money__month=[
                {"month": JAN, "closed": False, "result_cents": 101, "books_result_cents": 130},
                {"month": FEB, "closed": False, "result_cents": 100, "books_result_cents": 100},
            ],
            money__line=[
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
                {"month": day(3, 1), "closed": False, "result_cents": 0, "books_result_cents": 0},
            ],
            money__line=[
                line(JAN, "revenue", 500),
                line(FEB, "revenue", 130),
                line(FEB, "selling", -30, own=True),
            ],
            money__earlier=[{"closed_month": JAN, "month": FEB, "own_labour": False, "cents": -20}],
        ),
    ],
    "stages_exchange": [
        fires(
            "a cent that left the shelf and came nowhere, and scrap that waits in its pool",
            [
                {"month": JAN, "out_cents": 100, "in_cents": 99, "in_the_pool": 0},
                {"month": FEB, "out_cents": 100, "in_cents": 100, "in_the_pool": 30},
            ],
            money__stock_month=[
                {"month": month, "stage": name, "moved_out_cents": out, "moved_in_cents": came}
                for month, name, out, came in (
                    (JAN, "materials", 100, 0),
                    (JAN, "in progress", 0, 99),
                    (FEB, "materials", 100, 0),
                    (FEB, "in progress", 0, 100),
                )
            ],
            money__pool_month=[{"pool": "spoilage", "month": FEB, "opening_cents": 0, "closing_cents": 30}],
        ),
        holds(
            "from stage to stage, with scrap on its way, and another pool",
            money__stock_month=[
                {"month": JAN, "stage": "materials", "moved_out_cents": 100, "moved_in_cents": 0},
                {"month": JAN, "stage": "in progress", "moved_out_cents": 50, "moved_in_cents": 120},
            ],
            money__pool_month=[
                {"pool": "spoilage", "month": JAN, "opening_cents": 10, "closing_cents": 40},
                {"pool": "rent", "month": JAN, "opening_cents": 10, "closing_cents": 90},
            ],
        ),
    ],
    "stock_balance": [
        fires(
            "a cent between trace and draws, cents of no lot, and a lot that the trace doesn't know",
            [
                {"item": "oil", "by_trace": 60, "by_draws": 61},
                {"item": "without a lot", "by_trace": 5, "by_draws": None},
                {"item": "wax", "by_trace": None, "by_draws": 9},
            ],
            cost__lot=[
                {"lot_id": 1, "item": "oil", "on_hand_cents": 61},
                {"lot_id": 2, "item": "wax", "on_hand_cents": 9},
            ],
            cost__trace=[
                moved(JAN, "receipt", "stock", 100) | {"paid_row_id": 1},
                moved(JAN, "stock", "piece", 40) | {"paid_row_id": 1},
                moved(JAN, "receipt", "stock", 5) | {"paid_row_id": 8},
            ],
        ),
        holds(
            "two lots of an item together, one used up, and one had for nothing",
            cost__lot=[
                {"lot_id": 1, "item": "oil", "on_hand_cents": 60},
                {"lot_id": 2, "item": "oil", "on_hand_cents": 0},
                {"lot_id": 3, "item": "wax", "on_hand_cents": 0},
            ],
            cost__trace=[
                moved(JAN, "receipt", "stock", 100) | {"paid_row_id": 1},
                moved(JAN, "stock", "piece", 40) | {"paid_row_id": 1},
                moved(JAN, "setting", "stock", 30) | {"paid_row_id": 2},
                moved(JAN, "stock", "waste", 30) | {"paid_row_id": 2},
            ],
        ),
    ],
    "stock_below_zero": [
        fires(
            "a cent below",
            [{"month": JAN, "stage": "materials", "closing_cents": -1}],
            money__stock_month=[stage(JAN, "materials", 0, -1), stage(JAN, "finished", 0, 1)],
        ),
        holds("none left", money__stock_month=[stage(JAN, "materials", -1, 0)]),
    ],
    "stock_rolls_forward": [
        fires(
            "shelves, pieces and an opening that differ, and a month that the stages lack",
            [
                {"month": JAN, "shelf_cents": 99, "shelf_by_trace": 100, "piece_cents": 0, "pieces_by_trace": 0}
                | {"opening_cents": 0, "before_cents": None},
                {"month": FEB, "shelf_cents": 60, "shelf_by_trace": 60, "piece_cents": 41, "pieces_by_trace": 40}
                | {"opening_cents": 99, "before_cents": 99},
                {"month": day(3, 1), "shelf_cents": 60, "shelf_by_trace": 60, "piece_cents": 40, "pieces_by_trace": 40}
                | {"opening_cents": 100, "before_cents": 101},
                {"month": day(4, 1), "shelf_cents": None, "shelf_by_trace": 60}
                | {"piece_cents": None, "pieces_by_trace": 40, "opening_cents": None, "before_cents": None},
            ],
            work__month=[{"month": day(month, 1)} for month in (1, 2, 3, 4)],
            cost__trace=[moved(day(1, 5), "receipt", "stock", 100), moved(day(2, 5), "stock", "piece", 40)],
            money__stock_month=[
                stage(JAN, "materials", 0, 99),
                stage(JAN, "in progress", 0, 0),
                stage(FEB, "materials", 99, 60),
                stage(FEB, "in progress", 0, 41),
                stage(day(3, 1), "materials", 60, 60),
                stage(day(3, 1), "finished", 40, 40),
            ],
        ),
        holds(
            "from month to month, what is dated before the first month in it, and a month in which nothing moved",
            work__month=[{"month": JAN}, {"month": FEB}, {"month": day(3, 1)}],
            cost__trace=[
                moved(day(12, 5, 2025), "setting", "stock", 100),
                moved(day(1, 5), "stock", "piece", 40),
                moved(day(3, 5), "piece", "sold", 40),
            ],
            money__stock_month=[
                stage(JAN, "materials", 100, 60),
                stage(JAN, "in progress", 0, 30),
                stage(JAN, "finished", 0, 10),
                stage(FEB, "materials", 60, 60),
                stage(FEB, "finished", 40, 40),
                stage(day(3, 1), "materials", 60, 60),
                stage(day(3, 1), "finished", 40, 0),
            ],
        ),
    ],
}
