"""Examples of checks on the trace: what comes in goes on, pieces and pools are never below zero, all is conserved."""

from tests.sql.checks.example import FEB, JAN, Examples, day, fires, holds


def moved(from_place: str, to_place: str, cents: int, **more: object) -> dict[str, object]:
    return {"from_place": from_place, "to_place": to_place, "cents": cents, "on_date": JAN, **more}


RATES = [
    {"row_id": 1, "name": "Bo", "role": "employee", "from_date": JAN, "rate_cents": 2000.0},
    {"row_id": 2, "name": "Ada", "role": "owner", "from_date": JAN, "rate_cents": 3000.0},
    {"row_id": 3, "name": "Ada", "role": "owner", "from_date": FEB, "rate_cents": 3600.0},
]

EACH_PLACE = (
    *(("receipt", "stock"), ("labour", "piece"), ("setting", "asset"), ("imputed", "pool"), ("fee", "sold")),
    *(("piece", "own use"), ("stock", "waste"), ("asset", "period")),
)

EXAMPLES: Examples = {
    "labour_conserved": [
        fires(
            "cents for somebody without a rate",
            [{"row_id": 1, "cents": None, "traced": 7}],
            work__hours=[{"row_id": 1, "on_date": JAN, "person": "Cy", "seconds": 3600, "attended": True}],
            cost__movement=[moved("labour", "piece", 7, row_id=1)],
        ),
        fires(
            "a cent too little in the trace, and an hour that is not there at all",
            [{"row_id": 1, "cents": 3000, "traced": 2999}, {"row_id": 2, "cents": 1000, "traced": None}],
            settings__person_rate=RATES,
            work__hours=[
                {"row_id": 1, "on_date": JAN, "seconds": 3600, "attended": True},
                {"row_id": 2, "on_date": JAN, "person": "Bo", "seconds": 1800, "attended": True},
            ],
            cost__movement=[moved("labour", "piece", 2000, row_id=1), moved("labour", "period", 999, row_id=1)],
        ),
        holds(
            "by the rate of the day, the first owner's for nobody; without pay; and a machine left alone",
            settings__person_rate=RATES,
            work__hours=[
                {"row_id": 1, "on_date": day(1, 31), "seconds": 3600, "attended": True},
                {"row_id": 2, "on_date": FEB, "seconds": 3600, "attended": True},
                {"row_id": 3, "on_date": JAN, "person": "Cy", "seconds": 3600, "attended": True},
                {"row_id": 4, "on_date": JAN, "person": "Bo", "seconds": 3600, "attended": False},
            ],
            cost__movement=[
                moved("labour", "piece", 3000, row_id=1),
                moved("labour", "pool", 3600, row_id=2),
                moved("imputed", "piece", 500, row_id=3),
            ],
        ),
    ],
    "oversold": [
        fires(
            "scrapped twice, of a run of one",
            [{"piece": "T-1", "units": 1, "sold": 0, "scrapped": 2}],
            work__piece=[{"piece": "T-1", "units": 1}],
            records__inspections=[{"row_id": n, "piece": "T-1", "action": "scrap", "quantity": 1} for n in (1, 2)],
        ),
        fires(
            "two sold of one made",
            [{"piece": "T-1", "units": 1, "sold": 2, "scrapped": 0}],
            work__piece=[{"piece": "T-1", "units": 1}, {"piece": "T-2", "units": 1}],
            work__sale_piece=[
                {"row_id": 1, "piece": "T-1", "units": 1},
                {"row_id": 2, "piece": "T-1", "units": 1},
                {"row_id": 3, "piece": "T-2", "units": 1},
            ],
        ),
        fires(
            "all of a run sold, one of which was scrapped",
            [{"piece": "T-1", "units": 4, "sold": 4, "scrapped": 1}],
            work__piece=[{"piece": "T-1", "units": 4}],
            work__sale_piece=[{"row_id": 1, "piece": "T-1", "units": 4}],
            records__inspections=[{"row_id": 2, "piece": "T-1", "action": "scrap", "quantity": 1}],
        ),
        holds(
            "sold, brought back and sold again; one of four reworked; one of four scrapped and three sold",
            work__piece=[{"piece": "T-1", "units": 1}, {"piece": "T-2", "units": 4}, {"piece": "T-3", "units": 4}],
            work__sale_piece=[
                {"row_id": 1, "piece": "T-1", "units": 1},
                {"row_id": 2, "piece": "T-1", "units": -1},
                {"row_id": 3, "piece": "T-1", "units": 1},
                {"row_id": 4, "piece": "T-2", "units": 4},
                {"row_id": 5, "piece": "T-3", "units": 3},
            ],
            records__inspections=[
                {"row_id": 6, "piece": "T-2", "action": "rework", "quantity": 1},
                {"row_id": 7, "piece": "T-3", "action": "scrap", "quantity": 1},
                {"row_id": 8, "piece": "T-3", "action": "scrap"},
            ],
        ),
    ],
    "pieces_balance": [
        fires(
            "the same twice in, once out",
            [{"piece": "T-1", "cents": 50, "all_out": True}],
            cost__moved=[*[moved("stock", "piece", 50, piece="T-1")] * 2, moved("piece", "sold", 50, piece="T-1")],
            work__exit=[{"piece": "T-1", "number": 1, "units": 1, "units_out": 1}],
        ),
        fires(
            "more taken out than went in; gone and still holding cost; gone with less than nothing",
            [
                {"piece": "T-1", "cents": -1, "all_out": False},
                {"piece": "T-2", "cents": 40, "all_out": True},
                {"piece": "T-3", "cents": -5, "all_out": True},
            ],
            cost__moved=[
                moved("stock", "piece", 100, piece="T-1"),
                moved("piece", "stock", 101, piece="T-1"),
                moved("stock", "piece", 100, piece="T-2"),
                moved("piece", "sold", 60, piece="T-2"),
                moved("piece", "sold", 5, piece="T-3"),
            ],
            work__exit=[
                {"piece": piece, "number": number, "units": 2, "units_out": number}
                for piece in ("T-2", "T-3")
                for number in (1, 2)
            ],
        ),
        holds(
            "in work; half of a run gone; all gone and settled; come back",
            cost__moved=[
                moved("stock", "piece", 100, piece="T-1"),
                moved("stock", "piece", 100, piece="T-2"),
                moved("piece", "sold", 50, piece="T-2"),
                moved("labour", "piece", 100, piece="T-3"),
                moved("piece", "sold", 100, piece="T-3"),
                moved("labour", "piece", 100, piece="T-4"),
                moved("piece", "sold", 100, piece="T-4"),
                moved("sold", "piece", 100, piece="T-4"),
            ],
            work__exit=[
                {"piece": "T-2", "number": 1, "units": 2, "units_out": 1},
                {"piece": "T-3", "number": 1, "units": 1, "units_out": 1},
                {"piece": "T-4", "number": 1, "units": 1, "units_out": 1},
                {"piece": "T-4", "number": 2, "units": 1, "units_out": 0},
            ],
        ),
    ],
    "layer_unknown": [
        fires(
            "a layer of another name, and a movement of none",
            [{"layer": "glue", "movements": 2}, {"layer": None, "movements": 1}],
            settings__layer=[{"layer": "wood"}],
            cost__moved=[{"layer": "glue"}, {"layer": "glue"}, {"layer": "wood"}, {"cents": 5}],
        ),
        holds(
            "each of its own name; a layer that no cost has",
            settings__layer=[{"layer": "wood"}, {"layer": "labour"}],
            cost__moved=[{"layer": "wood"}, {"layer": "wood"}],
        ),
    ],
    "places_known": [
        fires(
            "a place of another name, and none at all, whichever way",
            [
                {"from_place": "shelf", "to_place": "piece", "movements": 2},
                {"from_place": "stock", "to_place": "attic", "movements": 1},
                {"from_place": None, "to_place": "piece", "movements": 1},
                {"from_place": "stock", "to_place": None, "movements": 1},
            ],
            cost__moved=[
                moved("shelf", "piece", 1),
                moved("shelf", "piece", 2),
                moved("stock", "attic", 1),
                {"to_place": "piece"},
                {"from_place": "stock"},
            ],
        ),
        holds(
            "each place of the books",
            cost__moved=[moved(one, other, 1) for one, other in EACH_PLACE],
        ),
    ],
    "pools_balance": [
        fires(
            "the same twice out, once in",
            [{"item": "rent", "cents": -50}],
            cost__moved=[moved("receipt", "pool", 50, item="rent"), *[moved("pool", "piece", 50, item="rent")] * 2],
        ),
        fires(
            "a pool that gave a cent more than it got",
            [{"item": "rent", "cents": -1}],
            cost__moved=[moved("receipt", "pool", 500, item="rent"), moved("pool", "piece", 501, item="rent")],
        ),
        holds(
            "one with a rest, one that is empty",
            cost__moved=[
                moved("receipt", "pool", 500, item="rent"),
                moved("pool", "piece", 499, item="rent"),
                moved("receipt", "pool", 20, item="tools"),
                moved("pool", "period", 20, item="tools"),
            ],
        ),
        holds(
            "a year's insurance paid back, of which a month has passed",
            cost__moved=[moved("pool", "receipt", 1200, item="rent"), moved("period", "pool", 100, item="rent")],
        ),
    ],
    "receipt_missing": [
        fires(
            "told by item, with the first day and all that is missing of it",
            [{"item": "oil", "first_on": JAN, "draws": 2, "cents": 30, "unit": "ul", "quantity": 3000}],
            cost__movement=[
                moved("imputed", "stock", 10, item="oil", unit="ul", quantity=1000),
                moved("imputed", "stock", 20, item="oil", unit="ul", quantity=2000) | {"on_date": FEB},
            ],
        ),
        holds(
            "bought, there from the beginning, and work that nobody logged",
            cost__movement=[
                moved("receipt", "stock", 10, item="oil"),
                moved("setting", "stock", 10, item="oil"),
                moved("imputed", "piece", 10, item=None),
            ],
        ),
        holds(
            "found by a count, and nothing of it used",
            work__unasked=[{"row_id": 7}],
            cost__movement=[moved("imputed", "stock", 10, item="oil", row_id=7)],
        ),
    ],
    "receipts_conserved": [
        fires(
            "a line that was traced twice, of a paper of two, and tax without a rule",
            [{"paper": "R-1/", "on_paper": 100, "traced": 150}, {"paper": "row 3", "on_paper": 120, "traced": 100}],
            records__purchases=[
                {"row_id": 1, "on_date": JAN, "receipt": "R-1", "amount_cents": 50},
                {"row_id": 2, "on_date": JAN, "receipt": "R-1", "amount_cents": 50},
                {"row_id": 3, "on_date": JAN, "amount_cents": 100, "tax_cents": 20},
            ],
            cost__moved=[
                *[moved("receipt", "stock", 50, row_id=1)] * 2,
                moved("receipt", "stock", 50, row_id=2),
                moved("receipt", "stock", 100, row_id=3),
            ],
        ),
        fires(
            "a line of a paper that stayed on it, a line of none, and one of which too much left",
            [
                {"paper": "R-1/Mill", "on_paper": 1300, "traced": 1000},
                {"paper": "row 3", "on_paper": 50, "traced": 0},
                {"paper": "R-4/", "on_paper": 80, "traced": 81},
            ],
            settings__rule=[{"from_date": JAN, "tax_reclaimable": True}],
            records__purchases=[
                {"row_id": 1, "on_date": JAN, "receipt": "R-1", "supplier": "Mill", "amount_cents": 1000},
                {"row_id": 2, "on_date": JAN, "receipt": "R-1", "supplier": "Mill", "amount_cents": 300},
                {"row_id": 3, "on_date": JAN, "amount_cents": 50},
                {"row_id": 4, "on_date": JAN, "receipt": "R-4", "amount_cents": 80},
            ],
            cost__moved=[moved("receipt", "stock", 1000, row_id=1), moved("receipt", "stock", 81, row_id=4)],
        ),
        fires(
            "tax of a shop that can't claim it back is a cost",
            [{"paper": "row 1", "on_paper": 120, "traced": 100}],
            settings__rule=[{"from_date": JAN, "tax_reclaimable": False}],
            records__purchases=[{"row_id": 1, "on_date": JAN, "amount_cents": 100, "tax_cents": 20}],
            cost__moved=[moved("receipt", "stock", 100, row_id=1)],
        ),
        holds(
            "freight and discount along, tax by the rule of the day, goods sent back, and a cent from line to line",
            settings__rule=[
                {"from_date": JAN, "tax_reclaimable": False},
                {"from_date": FEB, "tax_reclaimable": True},
            ],
            records__purchases=[
                {
                    "row_id": 1,
                    "on_date": JAN,
                    "amount_cents": 100,
                    "tax_cents": 20,
                    "freight_cents": 9,
                    "discount_cents": 5,
                },
                {"row_id": 2, "on_date": FEB, "amount_cents": 100, "tax_cents": 20},
                {"row_id": 3, "on_date": FEB, "amount_cents": -40},
                {"row_id": 4, "on_date": FEB, "receipt": "R-4", "amount_cents": 33},
                {"row_id": 5, "on_date": FEB, "receipt": "R-4", "amount_cents": 33},
            ],
            cost__moved=[
                moved("receipt", "stock", 124, row_id=1),
                moved("receipt", "pool", 100, row_id=2),
                moved("stock", "receipt", 40, row_id=3),
                moved("receipt", "stock", 34, row_id=4),
                moved("receipt", "stock", 32, row_id=5),
            ],
        ),
    ],
    "shop_work_settled": [
        fires(
            "the same pay twice in, once out",
            [{"item": "sweeping", "month": JAN, "origin": "labour", "cents": 50}],
            work__month=[{"month": JAN}],
            cost__moved=[
                *[moved("labour", "pool", 50, item="sweeping", origin="labour")] * 2,
                moved("pool", "piece", 50, item="sweeping", origin="labour"),
            ],
        ),
        fires(
            "pay that stayed in its pool, own pay that came out as another's, and pay of two months",
            [
                {"item": "sweeping", "month": JAN, "origin": "labour", "cents": 100},
                {"item": "sorting", "month": JAN, "origin": "own labour", "cents": 70},
                {"item": "sorting", "month": JAN, "origin": "labour", "cents": -70},
                {"item": "oiling", "month": JAN, "origin": "labour", "cents": 5},
                {"item": "oiling", "month": FEB, "origin": "labour", "cents": -5},
            ],
            work__month=[{"month": JAN}, {"month": FEB}],
            cost__moved=[
                moved("labour", "pool", 100, item="sweeping", origin="labour"),
                moved("labour", "pool", 70, item="sorting", origin="own labour"),
                moved("pool", "piece", 70, item="sorting", origin="labour"),
                moved("labour", "pool", 5, item="oiling", origin="labour"),
                moved("pool", "piece", 5, item="oiling", origin="labour") | {"on_date": FEB},
            ],
        ),
        holds(
            "settled in its month, work before the books began in their first; rent, and pay in spoilage, may wait",
            work__month=[{"month": JAN}, {"month": FEB}],
            cost__moved=[
                moved("labour", "pool", 100, item="sweeping", origin="labour") | {"on_date": day(2, 3)},
                moved("pool", "piece", 60, item="sweeping", origin="labour") | {"on_date": day(2, 20)},
                moved("pool", "period", 40, item="sweeping", origin="labour") | {"on_date": day(2, 28)},
                moved("labour", "pool", 9, item="sorting", origin="own labour") | {"on_date": day(11, 3, 2025)},
                moved("pool", "period", 9, item="sorting", origin="own labour"),
                moved("receipt", "pool", 500, item="rent", origin="overhead"),
                moved("piece", "pool", 30, item="spoilage", origin="labour"),
            ],
        ),
    ],
    "spoilage_settled": [
        fires(
            "scrap of January that went nowhere, and of February that left a cent",
            [{"month": JAN, "cents": 30}, {"month": FEB, "cents": 1}],
            cost__moved=[
                moved("piece", "pool", 30, item="spoilage"),
                moved("piece", "pool", 30, item="spoilage") | {"on_date": day(2, 3)},
                moved("pool", "piece", 29, item="spoilage") | {"on_date": day(2, 28)},
            ],
        ),
        holds(
            "taken over by good pieces or lost in its month; another pool; spoilage that is in no pool",
            cost__moved=[
                moved("piece", "pool", 30, item="spoilage"),
                moved("pool", "piece", 20, item="spoilage"),
                moved("pool", "period", 10, item="spoilage") | {"on_date": day(1, 31)},
                moved("receipt", "pool", 500, item="rent"),
                moved("piece", "sold", 20, item="spoilage"),
            ],
        ),
    ],
}
