"""The example rows of the entry workbook, and the rule by which a refresh passes over them."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import polars as pl

from pipeline.readers.reader_output import TextTable

MARK = "Example, not read: take this note out to keep the row."
"""A row with a cell that says exactly this is no record. It stands in the note of each example."""

Example = dict[str, Any]


def examples(start: date) -> dict[str, list[Example]]:
    """For each record two invented rows, field → cell, in the days after `start`."""

    def day(after: int) -> date:
        return start + timedelta(days=after)

    rows: dict[str, list[Example]] = {
        "purchases": [
            {
                "date": day(1), "receipt": "R-1001", "supplier": "Valley Timber", "item": "walnut slab",
                "category": "wood", "quantity": "12 bf", "amount": Decimal("96.00"), "freight": Decimal("14.00"),
                "lot": "W-01", "species": "black walnut", "length": "60 in", "width": "12 in", "thickness": "8/4",
                "moisture": "9 %",
            },
            {
                "date": day(3), "receipt": "R-1002", "supplier": "Harbour Resins", "item": "casting resin",
                "category": "resin", "quantity": "1 gal", "amount": Decimal("88.50"), "lot": "RES-7",
            },
        ],
        "pieces": [
            {
                "piece": "T-001", "product": "tray", "species": "black walnut", "finish": "oil and wax",
                "length": "400 mm", "width": "250 mm", "thickness": "20 mm", "lot": "W-01",
                "blank_length": "430 mm", "blank_width": "270 mm", "blank_thickness": "30 mm", "started": day(4),
                "finished": day(9), "status": "finished", "list_price": Decimal("120.00"),
            },
            {
                "piece": "C-001", "product": "coaster set", "species": "white oak", "finish": "flood coat",
                "quantity": 4, "diameter": "4 in", "thickness": "1/2 in", "started": day(6), "status": "in progress",
            },
        ],
        "hours": [
            {"date": day(5), "hours": "1:45", "person": "Me", "operation": "sanding", "pieces": "T-001"},
            {
                "date": day(6), "started_at": "9:00", "ended_at": "11:30", "person": "Me", "operation": "carving",
                "pieces": "T-001; C-001", "machine": "router", "attended": "no",
            },
        ],
        "pours": [
            {
                "pour": "P-001", "date": day(7), "purpose": "seal", "coat": 1, "resin": "casting resin",
                "lot": "RES-7", "part_a": "60 g", "part_b": "30 g", "piece": "C-001", "left_in_cup": "6 g",
                "stir_minutes": "4", "temperature": "20 C", "humidity": "45 %",
            },
            {
                "pour": "P-002", "date": day(8), "purpose": "flood", "coat": 2, "resin": "casting resin",
                "part_a": "120 ml", "part_b": "60 ml", "piece": "C-001", "colourant": "pearl pigment",
                "colourant_quantity": "2 g", "cured_hours": "36",
            },
        ],
        "usage": [
            {"date": day(8), "item": "disc 120", "quantity": "3 each", "pieces": "T-001"},
            {"date": day(9), "item": "hard oil", "quantity": "40 ml", "pieces": "T-001; C-001"},
        ],
        "inspections": [
            {"date": day(9), "piece": "T-001", "defect": "none", "action": "accept"},
            {
                "date": day(10), "piece": "C-001", "defect": "bubble", "found_at": "pouring", "action": "rework",
                "quantity": 1, "cause": "cold room",
            },
        ],
        "orders": [
            {
                "order_no": "O-100", "date": day(2), "channel": "commission", "product": "tray",
                "price": Decimal("120.00"), "due": day(30),
            },
            {"order_no": "O-101", "date": day(5), "channel": "online", "product": "coaster set"},
        ],
        "sales": [
            {
                "date": day(12), "order_no": "O-100", "channel": "commission", "piece": "T-001",
                "price": Decimal("120.00"), "sales_tax": Decimal("9.90"),
            },
            {
                "date": day(20), "channel": "market", "event": "SPRING-FAIR", "product": "coaster set", "quantity": 2,
                "price": Decimal("45.00"), "payment_fee": Decimal("2.60"),
            },
        ],
        "payments": [
            {"date": day(2), "kind": "deposit", "amount": Decimal("60.00"), "order_no": "O-100"},
            {"date": day(4), "kind": "supplier", "amount": Decimal("110.00"), "receipt": "R-1001"},
        ],
        "moves": [
            {"date": day(14), "pieces": "C-001", "place": "The Corner Gallery"},
            {"date": day(28), "pieces": "C-001..C-003", "place": "shop", "list_price": Decimal("105.00")},
        ],
        "counts": [
            {"date": day(0), "item": "casting resin", "category": "resin", "quantity": "3 kg", "worth": 60},
            {"date": day(30), "item": "disc 120", "category": "abrasive", "quantity": "14 each", "cause": "count"},
        ],
        "changes": [
            {"date": day(10), "change": "a timer for stirring"},
            {"date": day(20), "change": "hard oil in three thin coats"},
        ],
    }  # fmt: skip
    return {record: [row | {"note": MARK} for row in found] for record, found in rows.items()}


def without_examples(table: TextTable) -> TextTable:
    """The table with its example rows among those ignored."""
    if not table.columns:
        return table
    shown = pl.any_horizontal(pl.col(c) == MARK for c in table.columns).fill_null(False)
    rows = table.frame.filter(shown)
    if rows.is_empty():
        return table
    text = pl.concat_str(pl.exclude("row"), separator=" | ", ignore_nulls=True).alias("text")
    ignored = rows.select("row", pl.lit("example").alias("reason"), text)
    listed = pl.concat([table.ignored, ignored]).sort("row", maintain_order=True)
    return replace(table, frame=table.frame.filter(~shown), ignored=listed)
