"""Which pieces a sale took: by its tag, or by the order that it fills."""

from datetime import date

import pytest

DAY = date(2026, 2, 3)


def taken(model, sales, **pieces):
    """Pieces of the order O-1, each as its product and status, and the sales that fill it."""
    rows = model(
        "work._tagged",
        work__piece=[
            {"piece": tag.replace("_", "-"), "order_no": "O-1", "product": product, "status": status, "units": units}
            for tag, (product, status, units) in pieces.items()
        ],
        records__sales=[{"row_id": n, "on_date": DAY, "order_no": "O-1"} | sale for n, sale in enumerate(sales, 1)],
    )
    return sorted((row["row_id"], row["piece"], row["units"], row["assumed"]) for row in rows)


@pytest.mark.parametrize("status", ["scrapped", "test", "lost"])
def test_an_order_is_filled_by_what_came_of_it(model, status):
    found = taken(model, [{"quantity": 1}], T_0=("tray", status, 1), T_1=("tray", "finished", 1))
    assert found == [(1, "T-1", 1, True)]


def test_an_order_of_several_pieces_is_filled_by_all_of_them(model):
    trays = {"T_1": ("tray", "finished", 1), "T_2": ("tray", "finished", 2)}
    assert taken(model, [{"quantity": 3}], **trays) == [(1, "T-1", 1, True), (1, "T-2", 2, True)]
    by_channel = [{"channel": "fair", "quantity": 2}, {"channel": "gallery", "quantity": 1}]
    assert taken(model, by_channel, **trays) == [
        (1, "T-1", 1, True),
        (1, "T-2", 1, True),
        (2, "T-2", 1, True),
    ]


def test_pieces_of_an_order_go_by_product_and_what_a_sale_names_goes_with_that(model):
    found = taken(
        model,
        [{"product": "table"}, {"product": "bench"}, {"piece": "T-3", "quantity": 1}],
        T_1=("bench", "finished", 1),
        T_2=("table", "in progress", 1),
        T_3=("bench", "finished", 1),
    )
    assert found == [(1, "T-2", 1, True), (2, "T-1", 1, True), (3, "T-3", 1, False)]


def test_which_of_several_pieces_a_sale_of_fewer_took_is_not_known(model):
    trays = {"T_1": ("tray", "finished", 1), "T_2": ("tray", "finished", 1)}
    assert taken(model, [{"quantity": 1}], **trays) == []


def test_material_sold_with_an_order_is_no_piece_of_it(model):
    found = taken(model, [{"quantity": 1}, {"quantity": 1, "lot": "W-1"}], T_1=("tray", "finished", 1))
    assert found == [(1, "T-1", 1, True)]
