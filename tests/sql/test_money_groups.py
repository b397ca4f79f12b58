"""What the groups leave that are compared for their rework."""


def test_a_group_stands_beside_what_its_sold_pieces_left(model) -> None:
    """Two of elm were sold and one of them came back; the third is unsold. 36 months of records."""
    entries = [
        {"piece": "T-1", "units": 1, "revenue_cents": 9000, "cost_of_sales_cents": 5000, "selling_cents": 400},
        {"piece": "T-2", "units": 1, "revenue_cents": 8000, "cost_of_sales_cents": 5000, "selling_cents": 300},
        {"piece": "T-2", "units": -1, "revenue_cents": -8000, "cost_of_sales_cents": -5000, "selling_cents": 100},
        {"piece": None, "units": 1, "revenue_cents": 700, "cost_of_sales_cents": 0, "selling_cents": 0},
    ]
    rows = model(
        "money.group_margin",
        money___margin_entry=entries,
        quality__piece=[
            {"piece": piece, "factor": "species", "level": level}
            for piece, level in (("T-1", "elm"), ("T-2", "elm"), ("T-3", "elm"), ("T-4", "oak"))
        ],
        quality__saving=[
            {"factor": "species", "level": "elm", "months": 36},
            {"factor": "species", "level": "oak", "months": 36},
        ],
    )
    # by hand: 9,000 - 5,000 - 400, and - 300 - 100 for the piece that came back; a 36th of it, half up
    found = {row["level"]: (row["units"], row["margin_cents"], row["margin_per_month_cents"]) for row in rows}
    assert found == {"elm": (1, 3200, 89), "oak": (0, 0, 0)}
