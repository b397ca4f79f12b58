"""What each piece of the past would cost if it were made today: its own hours and material at today's pay and prices.

The day is the last one that the history names, so that a refresh does not depend on the clock. A piece without logged
hours or material is left out: it says nothing of what such a piece takes.
"""

import polars as pl

from pipeline.estimates import Node, cents
from pipeline.estimates.quote_rates import pay_on
from pipeline.estimates.quote_spread import usable
from pipeline.tables import in_polars

RESIN = ("resin", "resin waste")
PARTS = ("labour", "machine", "overhead", "material")
COLUMNS = {
    "piece": "VARCHAR",
    "product": "VARCHAR",
    "quantity": "BIGINT",
    "today_cents": "BIGINT",
    "today_labour_cents": "BIGINT",
    "today_machine_cents": "BIGINT",
    "today_overhead_cents": "BIGINT",
    "today_material_cents": "BIGINT",
    "today_resin_cents": "BIGINT",
}


def piece_today(history: pl.DataFrame, material: pl.DataFrame, person_rate: pl.DataFrame) -> pl.DataFrame:
    """One row per piece (`COLUMNS`), cents of one unit, from price.history, price.material and settings.person_rate.

    Labour moves with the pay in force; machine and overhead stand as they were applied. The parts add up to the whole.
    """
    history = usable(history)
    resin = pl.col("material_cents_today").sum().alias("resin_cents")
    poured = material.filter(pl.col("layer").is_in(RESIN)).group_by("piece").agg(resin)
    days = pl.concat([history["finished"], history["sold"].drop_nulls()])
    if history.is_empty():
        return pl.DataFrame(schema=in_polars(COLUMNS))
    now = pay_on(pl.Series([days.max()]), person_rate)[0]
    raised = pl.Series("raised", now / pay_on(history["finished"], person_rate))
    units = pl.col("quantity").fill_null(1).clip(1)

    def each(amount: pl.Expr) -> pl.Expr:
        return cents(amount.fill_null(0) / units)

    return (
        history.join(poured, on="piece", how="left", maintain_order="left")
        .with_columns(raised)
        .select(
            "piece",
            "product",
            units.cast(pl.Int64).alias("quantity"),
            each(pl.col("labour_cents") * pl.col("raised")).alias("today_labour_cents"),
            each(pl.col("machine_cents")).alias("today_machine_cents"),
            each(pl.col("overhead_cents")).alias("today_overhead_cents"),
            each(pl.col("material_cents_today")).alias("today_material_cents"),
            each(pl.col("resin_cents")).alias("today_resin_cents"),
        )
        .with_columns(today_cents=pl.sum_horizontal(f"today_{part}_cents" for part in PARTS))
        .select(list(COLUMNS))
    )


def _run(inputs: dict[str, pl.DataFrame]) -> pl.DataFrame:
    return piece_today(inputs["price.history"], inputs["price.material"], inputs["settings.person_rate"])


NODES = (
    Node(
        "price.piece_today",
        ("price.history", "price.material", "settings.person_rate"),
        COLUMNS,
        _run,
        "One row per piece with logged hours and material: what one unit of it would cost at today's pay and prices.",
        ("piece",),
        ("today_cents = today_labour_cents + today_machine_cents + today_overhead_cents + today_material_cents",),
    ),
)
