"""Examples of checks on the stages of the stock: what they hold is what the trace and the pieces hold."""

from tests.sql.checks.example import FEB, JAN, MAR, Examples, day, fires, holds


def moved(on_date: object, from_place: str, to_place: str, cents: int) -> dict[str, object]:
    return {"on_date": on_date, "from_place": from_place, "to_place": to_place, "cents": cents}


def stage(month: object, name: str, opening: int, closing: int) -> dict[str, object]:
    return {"month": month, "stage": name, "opening_cents": opening, "closing_cents": closing}


EXAMPLES: Examples = {
    "held_is_stock": [
        fires(
            "cost that no piece holds, own pay that none does, and two write-downs that come to too much",
            [
                {"month": JAN, "stage": "in progress", "closing_cents": 100, "held_cents": None}
                | {"written_down_cents": 0, "by_piece": None},
                {"month": JAN, "stage": "finished", "closing_cents": 0, "held_cents": None}
                | {"written_down_cents": 0, "by_piece": None},
                {"month": JAN, "stage": "consigned", "closing_cents": 100, "held_cents": 100}
                | {"written_down_cents": 10, "by_piece": 20},
            ],
            money__stock_month=[
                {
                    "month": JAN,
                    "stage": name,
                    "closing_cents": cents,
                    "own_labour_cents": own,
                    "written_down_cents": down,
                }
                for name, cents, own, down in (
                    ("in progress", 100, 0, 0),
                    ("finished", 0, 40, 0),
                    ("consigned", 100, 40, 10),
                )
            ],
            money__held=[{"month": JAN, "stage": "consigned", "cost_cents": 50, "own_labour_cents": 20}] * 2,
            money__write_down=[{"month": JAN, "stage": "consigned", "written_down_cents": 10}] * 2,
        ),
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
                for name, cents, own in (
                    ("finished", 100, 40),
                    ("consigned", 0, 0),
                    ("materials", 900, 0),
                    ("gone", 0, 0),
                )
            ],
            money__held=[
                {"month": JAN, "stage": "finished", "cost_cents": 60, "own_labour_cents": 40},
                {"month": JAN, "stage": "finished", "cost_cents": 40, "own_labour_cents": 0},
            ],
            money__write_down=[{"month": JAN, "stage": "gone", "written_down_cents": 5}],
        ),
    ],
    "stages_exchange": [
        fires(
            "two stages that pieces left, and one that they came to",
            [{"month": JAN, "out_cents": 80, "in_cents": 40, "in_the_pool": 0}],
            money__stock_month=[
                {"month": JAN, "stage": "materials", "moved_out_cents": 40, "moved_in_cents": 0},
                {"month": JAN, "stage": "in progress", "moved_out_cents": 40, "moved_in_cents": 40},
            ],
        ),
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
            "two lots that the trace moved twice alike, with one draw too few",
            [{"item": "oil", "by_trace": 40, "by_draws": 80}],
            cost__lot=[
                {"lot_id": 1, "item": "oil", "on_hand_cents": 40},
                {"lot_id": 2, "item": "oil", "on_hand_cents": 40},
            ],
            cost__moved=[moved(JAN, "receipt", "stock", 20) | {"paid_row_id": 1}] * 2,
        ),
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
            cost__moved=[
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
            cost__moved=[
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
            "cost on the shelf that no stage holds, in pieces that none holds, and on a day alike twice",
            [
                {"month": JAN, "shelf_cents": None, "shelf_by_trace": 20, "piece_cents": 0, "pieces_by_trace": 0}
                | {"opening_cents": 0, "before_cents": None},
                {"month": FEB, "shelf_cents": 20, "shelf_by_trace": 20, "piece_cents": None, "pieces_by_trace": 10}
                | {"opening_cents": 0, "before_cents": 0},
            ],
            work__month=[{"month": JAN}, {"month": FEB}],
            cost__moved=[*[moved(JAN, "receipt", "stock", 10)] * 2, *[moved(FEB, "labour", "piece", 5)] * 2],
            money__stock_month=[stage(JAN, "finished", 0, 0), stage(FEB, "materials", 0, 20)],
        ),
        fires(
            "shelves, pieces and an opening that differ, and a month that the stages lack",
            [
                {"month": JAN, "shelf_cents": 99, "shelf_by_trace": 100, "piece_cents": 0, "pieces_by_trace": 0}
                | {"opening_cents": 0, "before_cents": None},
                {"month": FEB, "shelf_cents": 60, "shelf_by_trace": 60, "piece_cents": 41, "pieces_by_trace": 40}
                | {"opening_cents": 99, "before_cents": 99},
                {"month": MAR, "shelf_cents": 60, "shelf_by_trace": 60, "piece_cents": 40, "pieces_by_trace": 40}
                | {"opening_cents": 100, "before_cents": 101},
                {"month": day(4, 1), "shelf_cents": None, "shelf_by_trace": 60}
                | {"piece_cents": None, "pieces_by_trace": 40, "opening_cents": None, "before_cents": None},
            ],
            work__month=[{"month": day(month, 1)} for month in (1, 2, 3, 4)],
            cost__moved=[moved(day(1, 5), "receipt", "stock", 100), moved(day(2, 5), "stock", "piece", 40)],
            money__stock_month=[
                stage(JAN, "materials", 0, 99),
                stage(JAN, "in progress", 0, 0),
                stage(FEB, "materials", 99, 60),
                stage(FEB, "in progress", 0, 41),
                stage(MAR, "materials", 60, 60),
                stage(MAR, "finished", 40, 40),
            ],
        ),
        holds(
            "from month to month, what is dated before the first month in it, and a month in which nothing moved",
            work__month=[{"month": JAN}, {"month": FEB}, {"month": MAR}],
            cost__moved=[
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
                stage(MAR, "materials", 60, 60),
                stage(MAR, "finished", 40, 0),
            ],
        ),
    ],
}
