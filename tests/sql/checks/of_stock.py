"""Examples of checks on wood, resin and what lies on the shelf."""

from tests.sql.checks.example import FEB, JAN, MAR, Examples, day, fires, holds

BEFORE = day(12, 20, 2025)
POUR = {"pour": "P-1", "on_date": JAN}
RESIN_ITEM = [
    {"item": "clear", "category": "resin", "density_ug_per_ul": 1100},
    {"item": "deep", "category": "resin", "density_ug_per_ul": 1000},
]


def _resin(item: str, on_hand_g: float, on_hand_cents: int) -> dict[str, object]:
    return {"item": item, "month": FEB, "on_hand_g": on_hand_g, "on_hand_cents": on_hand_cents}


def _to_shelf(item: str, cents: int) -> dict[str, object]:
    return {"item": item, "from_place": "receipt", "to_place": "stock", "cents": cents}


def _won(lot: int, item: str, cents: int) -> dict[str, object]:
    return {"paid_row_id": lot, "item": item, "from_place": "waste", "to_place": "stock", "cents": cents}


EXAMPLES: Examples = {
    "mix_off_ratio": [
        fires(
            "a tenth too much hardener",
            [{"pour": "P-1", "on_date": JAN, "mix_ratio_share": 1.1}],
            material__pour=[POUR | {"mix_ratio_share": 1.1, "off_ratio": True}],
        ),
        holds(
            "within the limit, and a mix nobody weighed",
            material__pour=[
                POUR | {"mix_ratio_share": 1.02, "off_ratio": False},
                POUR | {"mix_ratio_share": None, "off_ratio": None},
            ],
        ),
    ],
    "pour_without_piece": [
        fires(
            "poured on nothing",
            [{"pour": "P-1", "on_date": JAN, "mixed_g": 800.0, "resin_cents": 1600}],
            material__pour=[POUR | {"pieces": 0, "mixed_g": 800.0, "resin_cents": 1600}],
        ),
        holds("on one piece, and on three", material__pour=[POUR | {"pieces": 1}, POUR | {"pieces": 3}]),
    ],
    "pour_without_resin": [
        fires(
            "of two resins",
            [{"pour": "P-1", "on_date": JAN, "row_id": 1}],
            work__pour_resin=[{"pour": "P-1"}],
            work__pour=[POUR | {"row_id": 1}],
        ),
        holds(
            "one that is named, and the only one there was",
            work__pour_resin=[{"pour": "P-1", "resin": "clear"}, {"pour": "P-2", "resin": "clear", "assumed": True}],
            work__pour=[POUR | {"row_id": 1}, {"pour": "P-2", "row_id": 2}],
        ),
    ],
    "hours_without_pour": [
        fires(
            "poured by its hours alone",
            [{"piece": "T-1", "on_date": JAN, "row_id": 1}],
            cost__without_cost=[{"piece": "T-1", "layer": "resin", "item": "resin of no pour", "row_id": 1}],
            work__hours=[{"row_id": 1, "on_date": JAN, "operation": "pouring"}],
        ),
        holds(
            "resin of a pour that has no price",
            cost__without_cost=[{"piece": "T-1", "layer": "resin", "item": "clear", "row_id": 2}],
            work__hours=[{"row_id": 1, "on_date": JAN, "operation": "pouring"}],
        ),
    ],
    "price_list_unused": [
        holds(
            "a price before the newest receipt of a species that two names draw on",
            settings__price_list=[{"row_id": 1, "name": "ash", "unit": "L", "from_date": FEB}],
            price__today=[{"flow": "ash", "from_date": JAN}, {"flow": "wood/ash", "from_date": FEB}],
        ),
        fires(
            "an item nobody uses, a newest price that an older one stands for, and a receipt older than the list",
            [
                {"name": "gold leaf", "unit": "each", "from_date": JAN, "row_id": 1},
                {"name": "oil", "unit": "barrel", "from_date": FEB, "row_id": 3},
                {"name": "ash", "unit": "board", "from_date": FEB, "row_id": 4},
            ],
            settings__price_list=[
                {"row_id": 1, "name": "gold leaf", "unit": "each", "from_date": JAN},
                {"row_id": 2, "name": "oil", "unit": "L", "from_date": JAN},
                {"row_id": 3, "name": "oil", "unit": "barrel", "from_date": FEB},
                {"row_id": 4, "name": "ash", "unit": "board", "from_date": FEB},
            ],
            price__today=[
                {"flow": "oil", "from_date": JAN},
                {"flow": "wood/ash", "from_date": JAN},
                {"flow": "ash tray", "from_date": FEB},
            ],
        ),
        holds(
            "used for an item, for a species, an old price that was followed by another, and a receipt since",
            settings__price_list=[
                {"row_id": 2, "name": "oil", "unit": "barrel", "from_date": JAN},
                {"row_id": 3, "name": "oil", "unit": "L", "from_date": FEB},
                {"row_id": 4, "name": "ash", "unit": "board", "from_date": FEB},
                {"row_id": 5, "name": "wax", "unit": "g", "from_date": JAN},
            ],
            price__today=[
                {"flow": "oil", "from_date": FEB},
                {"flow": "wood/ash", "from_date": FEB},
                {"flow": "wax", "from_date": FEB},
            ],
        ),
    ],
    "opening_uncounted": [
        fires(
            "bought before the records begin: told by item, with the first day and what the receipts come to",
            [{"item": "wax", "receipts": 2, "first_on": BEFORE, "start": JAN, "cents": 1200}],
            settings__shop=[{"start": JAN}],
            cost__lot=[
                {"lot_id": 1, "item": "wax", "bought_on": BEFORE, "landed_cents": 900},
                {"lot_id": 2, "item": "wax", "bought_on": BEFORE, "landed_cents": 300},
                {"lot_id": 3, "item": "wax", "bought_on": JAN, "landed_cents": 50},
            ],
            work__lot=[{"lot_id": number, "uncounted": number < 3} for number in (1, 2, 3)],
        ),
        holds(
            "bought since; counted on the eve; saved from a piece",
            settings__shop=[{"start": JAN}],
            cost__lot=[
                {"lot_id": 1, "item": "wax", "bought_on": JAN, "landed_cents": 900},
                {"lot_id": 2, "item": "oil", "bought_on": BEFORE, "landed_cents": 300},
                {"lot_id": 3, "item": "rest", "bought_on": BEFORE, "landed_cents": 50},
            ],
            work__lot=[
                {"lot_id": 1, "uncounted": False},
                {"lot_id": 2, "opening": True, "uncounted": False},
                {"lot_id": 3, "uncounted": False, "saved_from": "T-1"},
            ],
        ),
    ],
    "price_unknown": [
        fires(
            "used without any receipt, with one of nothing, wood of another species, and found by a count",
            [
                {"item": "wax", "first_on": JAN, "times": 3},
                {"item": "gift oil", "first_on": JAN, "times": 1},
                {"item": "wood/ash", "first_on": JAN, "times": 1},
                {"item": "glitter", "first_on": MAR, "times": 1},
            ],
            work__missing=[
                {"flow": "wax", "on_date": FEB},
                {"flow": "wax", "on_date": JAN},
                {"flow": "wax", "on_date": JAN},
                {"flow": "gift oil", "on_date": JAN},
                {"flow": "wood/ash", "on_date": JAN},
            ],
            work__found=[{"flow": "glitter", "on_date": MAR, "beyond": 500}],
            cost__lot=[
                {"item": "gift oil", "category": "finish", "landed_cents": 0},
                {"item": "board", "category": "wood", "species": "oak", "landed_cents": 900},
                # a thing that is called as the wood is
                {"item": "ash", "category": "consumable", "landed_cents": 900},
            ],
        ),
        holds(
            "a price is known: of the item, of the species, of wood whose species nobody wrote; none beyond",
            work__missing=[
                {"flow": "wax", "on_date": JAN},
                {"flow": "wood/ash", "on_date": JAN},
                {"flow": "wood/shelf board", "on_date": JAN},
            ],
            work__found=[
                {"flow": "wax", "on_date": MAR, "beyond": 500},
                {"flow": "glitter", "on_date": MAR, "beyond": 0},
            ],
            cost__lot=[
                {"item": "wax", "category": "finish", "landed_cents": 900},
                {"item": "board", "category": "wood", "species": "ash", "landed_cents": 900},
                {"item": "shelf board", "category": "wood", "landed_cents": 900},
            ],
        ),
    ],
    "resin_balances": [
        fires(
            "two lots that hold what the months give one, and cents that the trace has none of",
            [{"item": "clear", "on_hand_g": 5.0, "on_hand_cents": 7, "lots_g": 10.0, "trace_cents": None}],
            material__resin_balance=[_resin("clear", 5.0, 7)],
            material__stock=[{"item": "clear", "flow": "clear", "category": "resin", "unit": "mg", "on_hand": 5000}]
            * 2,
            work__item=RESIN_ITEM,
        ),
        fires(
            "a gram that no lot holds, and cents that the trace has otherwise",
            [
                {"item": "clear", "on_hand_g": 501.0, "on_hand_cents": 900, "lots_g": 500.0, "trace_cents": 900},
                {"item": "deep", "on_hand_g": 500.0, "on_hand_cents": 900, "lots_g": 500.0, "trace_cents": 899},
                {"item": "gone", "on_hand_g": 5.0, "on_hand_cents": 0, "lots_g": None, "trace_cents": None},
            ],
            material__resin_balance=[_resin("clear", 501.0, 900), _resin("deep", 500.0, 900), _resin("gone", 5.0, 0)],
            material__stock=[
                {"item": item, "flow": item, "category": "resin", "unit": "mg", "on_hand": 500_000}
                for item in ("clear", "deep")
            ],
            work__item=RESIN_ITEM,
            cost__moved=[_to_shelf("clear", 900), _to_shelf("deep", 899)],
        ),
        holds(
            "the newest month, lots in volume by their density, what left the shelf, and lots of unknown size left out",
            material__resin_balance=[
                _resin("clear", 550.0, 700),
                _resin("deep", 0.0, 0),
                _resin("clear", 9.0, 9) | {"month": JAN},
            ],
            material__stock=[
                {"item": "clear", "flow": "clear", "category": "resin", "unit": "ul", "on_hand": 500_000},
                {"item": "clear", "flow": "unmeasured/clear", "category": "resin", "unit": "each", "on_hand": 1},
            ],
            work__item=RESIN_ITEM,
            cost__moved=[
                _to_shelf("clear", 900),
                {"item": "clear", "from_place": "stock", "to_place": "piece", "cents": 200},
                _to_shelf("wax", 77),
            ],
        ),
    ],
    "resin_disagrees": [
        fires(
            "figures that can't all be right",
            [{"item": "clear", "from_on": JAN, "to_on": FEB, "chance": 0.001, "suspects": "the count"}],
            material__reconciled_stretch=[
                {"item": "clear", "from_on": JAN, "to_on": FEB, "chance": 0.001, "suspects": "the count"}
                | {"agrees": False}
            ],
        ),
        holds(
            "figures that agree, and a stretch of which nothing can be said",
            material__reconciled_stretch=[{"item": "clear", "agrees": True}, {"item": "clear", "agrees": None}],
        ),
        holds(
            "a resin of which a kit of unknown size was bought",
            material__reconciled_stretch=[{"item": "clear", "agrees": False}],
            work__lot=[{"flow": "unmeasured/clear"}],
        ),
    ],
    "resin_past_date": [
        fires(
            "past its date, and soon to be",
            [
                {"item": "clear", "lot": lot, "bought_on": JAN, "keeps_to": keeps_to, "on_hand_cents": 900}
                for lot, keeps_to in (("R-1", FEB), ("R-2", MAR))
            ],
            material__stock=[
                {"item": "clear", "category": "resin", "bought_on": JAN, "on_hand_cents": 900}
                | {"lot": lot, "keeps_to": keeps_to, "shelf_life": life}
                for lot, keeps_to, life in (("R-1", FEB, "past its date"), ("R-2", MAR, "within two months"))
            ],
        ),
        holds(
            "it keeps, nobody knows how long, and what is past its date is an oil",
            material__stock=[
                {"item": "clear", "category": "resin", "shelf_life": "keeps"},
                {"item": "clear", "category": "resin", "shelf_life": None},
                {"item": "oil", "category": "finish", "shelf_life": "past its date"},
            ],
        ),
    ],
    "salvage_without_scrap": [
        fires(
            "saved from a piece that was not scrapped",
            [{"lot": "C-1", "item": "legs", "saved_from": "T-1", "worth_cents": 500}],
            work__lot=[{"lot_id": 1, "lot": "C-1", "item": "legs", "saved_from": "T-1"}],
            cost__lot=[{"lot_id": 1, "landed_cents": 0}],
            records__counts=[{"row_id": 1, "worth_cents": 500}],
        ),
        holds(
            "its worth came off the scrap; worth nothing, or nobody knows what; bought as it is",
            work__lot=[
                {"lot_id": 1, "item": "legs", "saved_from": "T-1"},
                {"lot_id": 2, "item": "legs", "saved_from": "T-1"},
                {"lot_id": 3, "item": "legs", "saved_from": "T-1"},
                {"lot_id": 4, "item": "legs"},
            ],
            cost__lot=[{"lot_id": 1, "landed_cents": 400}] + [{"lot_id": n, "landed_cents": 0} for n in (2, 3, 4)],
            records__counts=[
                {"row_id": 1, "worth_cents": 500},
                {"row_id": 2, "worth_cents": 0},
                {"row_id": 3},
                {"row_id": 4, "worth_cents": 500},
            ],
        ),
    ],
    "slab_uncut": [
        fires(
            "half a year and a day",
            [{"lot": "M-1", "species": "ash", "bought_on": day(12, 28, 2025), "landed_cents": 900}],
            work__month=[{"last_on": day(5, 31)}, {"last_on": day(6, 30)}],
            cost__lot=[
                {"lot": "M-1", "category": "wood", "species": "ash", "bought_on": day(12, 28, 2025)}
                | {"used": 0, "on_hand": 50, "landed_cents": 900}
            ],
        ),
        holds(
            "half a year to the day, cut from, sent back whole though some was paid, had for nothing, and no wood",
            work__month=[{"last_on": day(6, 30)}],
            cost__lot=[
                {"category": category, "bought_on": bought, "used": used, "on_hand": on_hand, "landed_cents": cents}
                for category, bought, used, on_hand, cents in (
                    ("wood", day(12, 29, 2025), 0, 50, 900),
                    ("wood", day(1, 1, 2025), 1, 49, 900),
                    ("wood", day(1, 1, 2025), 0, 0, 90),
                    ("wood", day(1, 1, 2025), 0, 50, 0),
                    ("finish", day(1, 1, 2025), 0, 50, 900),
                )
            ],
        ),
    ],
    "unit_unusable": [
        fires(
            "two lots of which nobody knows how much they hold",
            [{"item": "oil", "unit": "each", "lots": 2, "uses": 0, "cost_cents": 950}],
            work__lot=[{"lot_id": n, "item": "oil", "unit": "each", "flow": "unmeasured/oil"} for n in (1, 2)],
            cost__lot=[{"lot_id": 1, "on_hand_cents": 900}, {"lot_id": 2, "on_hand_cents": 50}],
        ),
        fires(
            "two uses of it by volume, though it is bought by the tin",
            [{"item": "oil", "unit": "ul", "lots": 0, "uses": 2, "cost_cents": None}],
            work__unmeasured=[{"row_id": n, "item": "oil", "unit": "ul"} for n in (1, 2)],
        ),
        holds(
            "one of known size",
            work__lot=[{"lot_id": 1, "item": "oil", "unit": "ul", "flow": "oil"}],
            cost__lot=[{"lot_id": 1, "on_hand_cents": 900}],
        ),
    ],
    "wood_without_lot": [
        fires(
            "a piece that names no slab, though oil is on its usage list, and wood on another's",
            [{"piece": "T-1", "species": "ash", "started_on": JAN}],
            work__piece=[
                {"piece": "T-1", "species": "ash", "started_on": JAN, "opening": False, "blank_mm3": 1000},
                {"piece": "T-2", "species": "ash", "started_on": JAN, "opening": False, "blank_mm3": 1000},
            ],
            records__usage=[{"row_id": 7, "item": "oil"}, {"row_id": 8, "item": "ash board"}],
            records__usage_piece=[{"row_id": 7, "piece": "T-1"}, {"row_id": 8, "piece": "T-2"}],
            work__item=[{"item": "oil", "category": "finish"}, {"item": "ash board", "category": "wood"}],
        ),
        holds(
            "it names its slab, was there when the books began, or is of no wood",
            work__piece=[
                {"piece": "T-1", "lot": "M-1", "opening": False, "blank_mm3": 1000},
                {"piece": "T-2", "opening": True, "blank_mm3": 1000},
                {"piece": "T-3", "opening": False, "blank_mm3": 0},
                {"piece": "T-4", "opening": False, "blank_mm3": None},
            ],
        ),
    ],
    "yield_too_good": [
        fires(
            "more finished than bought, and more finished than cut for it",
            [
                {"lot_id": 1, "lot": "M-1", "species": "ash", "bought_dm3": 5.0, "blank_dm3": 6.0, "finished_dm3": 5.5},
                {"lot_id": 2, "lot": "M-2", "species": "ash", "bought_dm3": 9.0, "blank_dm3": 2.0, "finished_dm3": 3.0},
            ],
            material__wood_yield=[
                {"lot_id": 1, "lot": "M-1", "species": "ash", "bought_dm3": 5.0, "blank_dm3": 6.0, "finished_dm3": 5.5}
                | {"yield_share": 1.1, "shaped_dm3": 0.5},
                {"lot_id": 2, "lot": "M-2", "species": "ash", "bought_dm3": 9.0, "blank_dm3": 2.0, "finished_dm3": 3.0}
                | {"yield_share": 0.3, "shaped_dm3": -1.0},
            ],
        ),
        holds(
            "all of it finished, a rounding's worth beyond, and nothing known",
            material__wood_yield=[
                {"yield_share": 1.0, "shaped_dm3": 0.0},
                {"yield_share": 0.5, "shaped_dm3": -0.0005},
                {"yield_share": None, "shaped_dm3": None},
            ],
        ),
    ],
    "back_above_cost": [
        fires(
            "more came back for a lot than it cost",
            [{"row_id": 7, "item": "oil", "won_cents": 50}],
            cost__movement=[_won(7, "oil", 30), _won(7, "oil", 20), _to_shelf("oil", 10)],
        ),
        holds(
            "a draw that comes back, with its quantity, and one that is free",
            cost__movement=[_won(7, "oil", 30) | {"quantity": -2000}, _won(8, "wax", 0)],
        ),
    ],
    "none_bought": [
        fires(
            "at a price, and a service is none of it",
            [{"row_id": 1, "item": "disc", "cents": 3000}],
            records__purchases=[
                {"row_id": 1, "item": "disc", "category": "abrasive", "quantity": 0, "amount_cents": 3000},
                {"row_id": 2, "item": "rent", "category": "overhead", "quantity": 0, "amount_cents": 3000},
            ],
        ),
        holds(
            "for nothing, some of it, and an unknown number",
            records__purchases=[
                {"row_id": n, "item": "disc", "category": "abrasive", "quantity": quantity, "amount_cents": cents}
                for n, (quantity, cents) in enumerate([(0, 0), (1000, 3000), (None, 3000)])
            ],
        ),
    ],
}
