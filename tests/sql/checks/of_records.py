"""Examples of checks on what the maker wrote down: hours, rows, words, tags, receipts and sales."""

from tests.sql.checks.example import JAN, Examples, day, fires, holds

EXAMPLES: Examples = {
    "deposit_without_order": [
        fires(
            "a deposit and a balance that name none",
            [
                {"on_date": JAN, "kind": kind, "amount_cents": 5000, "row_id": row_id}
                for row_id, kind in ((1, "deposit"), (2, "balance"))
            ],
            records__payments=[
                {"row_id": 1, "on_date": JAN, "kind": "deposit", "amount_cents": 5000},
                {"row_id": 2, "on_date": JAN, "kind": "balance", "amount_cents": 5000},
            ],
        ),
        holds(
            "one that names its order, and the rent",
            records__payments=[
                {"row_id": 1, "on_date": JAN, "kind": "deposit", "amount_cents": 5000, "order_no": "O-1"},
                {"row_id": 2, "on_date": JAN, "kind": "rent", "amount_cents": 5000},
            ],
        ),
    ],
    "estimate_failed": [
        fires(
            "one that could not be worked out",
            [{"estimate": "price.waste", "fault": "ValueError in waste.py"}],
            intake__failed_estimate=[
                {"estimate": "price.waste", "meaning": "One row.", "fault": "ValueError in waste.py"}
            ],
        ),
        holds("none failed", intake__failed_estimate=[]),
    ],
    "finished_without_day": [
        fires(
            "finished, but not when",
            [{"row_id": 1, "piece": "T-1", "product": "tray", "started": JAN}],
            records__pieces=[
                {"row_id": 1, "piece": "T-1", "product": "tray", "started": JAN, "status": "finished"},
            ],
        ),
        holds(
            "finished on a day, and in progress",
            records__pieces=[
                {"row_id": 1, "piece": "T-1", "status": "finished", "finished": JAN},
                {"row_id": 2, "piece": "T-2", "status": "in progress"},
            ],
        ),
    ],
    "hours_missing": [
        fires(
            "a finished piece of material alone",
            [{"piece": "T-1", "product": "tray", "finished": JAN}],
            cost__piece=[
                {
                    "piece": "T-1",
                    "product": "tray",
                    "status": "finished",
                    "finished": JAN,
                    "hours": 0.0,
                    "labour_cents": 0,
                    "made_cents": 500,
                },
            ],
            work__piece=[{"piece": "T-1", "opening": False}],
        ),
        holds(
            "worked on for pay or for nothing, without any cost, not finished, and there when the books began",
            cost__piece=[
                {"piece": f"T-{n}", "status": status, "hours": hours, "labour_cents": pay, "made_cents": cents}
                for n, status, hours, pay, cents in (
                    (1, "finished", 1.0, 3000, 3500),
                    (2, "finished", 1.0, 0, 500),  # a helper without pay
                    (3, "finished", 0.0, 0, 0),
                    (4, "in progress", 0.0, 0, 500),
                    (5, "finished", 0.0, 0, 500),
                )
            ],
            work__piece=[{"piece": f"T-{n}", "opening": n == 5} for n in range(1, 6)],
        ),
    ],
    "hours_unplaced": [
        fires(
            "bench hours, told by operation",
            [{"operation": "sanding", "records": 2, "cents": 700}, {"operation": "sawing", "records": 1, "cents": 50}],
            work__hours=[{"row_id": n, "kind": "bench"} for n in (1, 2, 3)],
            cost__movement=[
                {"row_id": n, "from_place": "labour", "to_place": "period", "operation": operation, "cents": cents}
                for n, operation, cents in ((1, "sanding", 300), (2, "sanding", 400), (3, "sawing", 50))
            ],
        ),
        holds(
            "shop work, hours in a piece, hours on a piece after its sale, and a fee",
            work__hours=[{"row_id": 1, "kind": "shop"}] + [{"row_id": n, "kind": "bench"} for n in (2, 3, 4)],
            cost__movement=[
                {"row_id": 1, "from_place": "labour", "to_place": "period", "operation": "sweeping", "cents": 1},
                {"row_id": 2, "from_place": "labour", "to_place": "piece", "operation": "sawing", "cents": 1},
                {
                    "row_id": 3,
                    "from_place": "labour",
                    "to_place": "period",
                    "operation": "sawing",
                    "cents": 1,
                    "piece": "T-1",
                },
                {"row_id": 4, "from_place": "fee", "to_place": "period", "operation": "sawing", "cents": 1},
            ],
        ),
    ],
    "rate_unknown": [
        fires(
            "the first owner stands for nobody, even behind an employee, and nobody does where no one works",
            [{"person": "Ada", "first_on": JAN, "rows": 1, "hours": 1.0}],
            settings__person_rate=[
                {"row_id": 1, "name": "Bo", "role": "employee", "from_date": JAN},
                {"row_id": 2, "name": "Ada", "role": "owner", "from_date": day(2, 1)},
            ],
            work__hours=[{"row_id": 1, "on_date": JAN, "seconds": 3600, "attended": True}],
        ),
        fires(
            "no people at all",
            [{"person": None, "first_on": JAN, "rows": 1, "hours": 1.0}],
            work__hours=[{"row_id": 1, "on_date": JAN, "seconds": 3600, "attended": True}],
        ),
        fires(
            "hours before a rate holds, of somebody unknown, and a helper's",
            [
                {"person": "Ada", "first_on": JAN, "rows": 1, "hours": 1.0},
                {"person": "Bo", "first_on": day(2, 2), "rows": 2, "hours": 3.5},
            ],
            settings__person_rate=[{"row_id": 1, "name": "Ada", "role": "owner", "from_date": day(2, 1)}],
            work__hours=[
                {"row_id": 1, "on_date": JAN, "seconds": 3600, "attended": True},
                {"row_id": 2, "on_date": day(2, 2), "person": "Bo", "seconds": 7200, "attended": True},
                {"row_id": 3, "on_date": day(2, 3), "person": "Bo", "seconds": 5400, "attended": True},
            ],
        ),
        holds(
            "from the day of the rate on, nobody's for the first owner, and a machine left alone",
            settings__person_rate=[
                {"row_id": 1, "name": "Ada", "role": "owner", "from_date": JAN},
                {"row_id": 2, "name": "Bo", "role": "employee", "from_date": JAN},
            ],
            work__hours=[
                {"row_id": 1, "on_date": JAN, "seconds": 3600, "attended": True},
                {"row_id": 2, "on_date": JAN, "person": "Bo", "seconds": 3600, "attended": True},
                {"row_id": 3, "on_date": JAN, "person": "Cy", "seconds": 3600, "attended": False},
            ],
        ),
    ],
    "receipt_total": [
        fires(
            "two lines that say different totals: the larger is meant",
            [{"receipt": "R-1", "supplier": None, "total": 900, "lines": 800}],
            records__purchases=[
                {"receipt": "R-1", "amount_cents": 400, "total_cents": 800},
                {"receipt": "R-1", "amount_cents": 400, "total_cents": 900},
            ],
        ),
        fires(
            "two lines that come to less than the paper says",
            [{"receipt": "R-1", "supplier": "Mill", "total": 1500, "lines": 1440}],
            records__purchases=[
                {"receipt": "R-1", "supplier": "Mill", "amount_cents": 1000, "total_cents": 1500},
                {
                    "receipt": "R-1",
                    "supplier": "Mill",
                    "amount_cents": 300,
                    "freight_cents": 100,
                    "tax_cents": 50,
                    "discount_cents": 10,
                },
            ],
        ),
        holds(
            "lines that add up, another supplier's paper of that number, one without a total, a line without a paper",
            records__purchases=[
                {
                    "receipt": "R-1",
                    "supplier": "Mill",
                    "amount_cents": 300,
                    "freight_cents": 100,
                    "tax_cents": 50,
                    "discount_cents": 10,
                    "total_cents": 440,
                },
                {"receipt": "R-1", "supplier": "Dye works", "amount_cents": 200, "total_cents": 200},
                {"receipt": "R-2", "supplier": "Mill", "amount_cents": 200},
                {"supplier": "Mill", "amount_cents": 200, "total_cents": 900},
            ],
        ),
    ],
    "row_set_aside": [
        fires(
            "a row that could not be read",
            [
                {
                    "file": "sales.csv",
                    "sheet": None,
                    "row": 7,
                    "occurrence": 1,
                    "reason": "No date.",
                    "suggestion": "Write one.",
                }
            ],
            intake__rejected=[
                {
                    "file": "sales.csv",
                    "row": 7,
                    "occurrence": 1,
                    "reason": "No date.",
                    "suggestion": "Write one.",
                    "record": "sales",
                }
            ],
        ),
        holds("none", intake__rejected=[]),
    ],
    "rows_add_up": [
        fires(
            "a row of ten that went nowhere",
            [
                {
                    "file": "a.csv",
                    "sheet": None,
                    "rows": 10,
                    "loaded": 6,
                    "duplicate": 1,
                    "set_aside": 1,
                    "ignored": 1,
                }
            ],
            intake__file=[{"file": "a.csv", "rows": 10, "loaded": 6, "duplicate": 1, "set_aside": 1, "ignored": 1}],
        ),
        holds(
            "all of ten, and none of an empty file",
            intake__file=[
                {"file": "a.csv", "rows": 10, "loaded": 6, "duplicate": 1, "set_aside": 1, "ignored": 2},
                {"file": "b.csv", "rows": 0, "loaded": 0, "duplicate": 0, "set_aside": 0, "ignored": 0},
            ],
        ),
    ],
    "sale_unmatched": [
        fires(
            "no piece is known of it",
            [{"row_id": 1, "on_date": JAN, "product": "tray", "price_cents": 4000}],
            records__sales=[
                {"row_id": 1, "on_date": JAN, "product": "tray", "price_cents": 4000},
                {"row_id": 2, "on_date": JAN, "product": "tray", "price_cents": 4000, "quantity": 1},
            ],
            work__sale_piece=[{"row_id": 2, "piece": "T-1"}],
        ),
        holds(
            "a piece is known, wood was sold as such, and a refund",
            records__sales=[
                {"row_id": 1, "on_date": JAN},
                {"row_id": 2, "on_date": JAN, "lot": "M-1"},
                {"row_id": 3, "on_date": JAN, "quantity": -1},
                {"row_id": 4, "on_date": JAN, "quantity": 0},
            ],
            work__sale_piece=[{"row_id": 1, "piece": "T-1"}],
        ),
    ],
    "tag_unlinked": [
        fires(
            "counted by record, field and tag",
            [
                {"record": "hours", "field": "pieces", "tag": "T-9", "rows": 2},
                {"record": "sales", "field": "piece", "tag": "T-9", "rows": 1},
            ],
            intake__unlinked=[
                {"row_id": 1, "record": "hours", "field": "pieces", "tag": "T-9"},
                {"row_id": 2, "record": "hours", "field": "pieces", "tag": "T-9"},
                {"row_id": 3, "record": "sales", "field": "piece", "tag": "T-9"},
            ],
        ),
        holds("all lead somewhere", intake__unlinked=[]),
    ],
    "file_asks": [
        fires(
            "each question of the shop",
            [{"question": "a1", "ask": "What is “do again”?", "rows": 2, "worth_cents": 900}],
            intake__question=[{"question": "a1", "ask": "What is “do again”?", "rows": 2, "worth_cents": 900}],
        ),
        holds("none asks", intake__question=[]),
    ],
    "word_unknown": [
        fires(
            "once for each word, with the rows of all files",
            [{"vocabulary": "operation", "word": "sandng", "nearest": "sanding", "rows": 5}],
            intake__unknown_word=[
                {"vocabulary": "operation", "word": "sandng", "nearest": "sanding", "rows": 2, "file": "a.csv"},
                {"vocabulary": "operation", "word": "sandng", "nearest": "sanding", "rows": 3, "file": "b.csv"},
            ],
        ),
        holds("all known", intake__unknown_word=[]),
    ],
}
