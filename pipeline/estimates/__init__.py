"""What SQL can't work out: each estimate is a node of the models' graph, with named inputs and typed columns.

An estimate never stops the books: whatever it raises leaves its table empty, and is told by its type and place.

To add one: write `pipeline/estimates/<name>.py` with `NODES`, and name it in `MODULES`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import import_module
from typing import Any, NoReturn

import polars as pl

from pipeline.tables import in_polars
from pipeline.writing.internal_errors import ends_us, place_of

MODULES: tuple[str, ...] = (
    "untagged",
    "twins",
    "part_logged",
    "rates",
    "first_pass_yield",
    "savings",
    "quotes",
    "piece_today",
    "waste",
    "reconcile",
    "goal",
)
"""The modules of this folder that hold nodes."""

MOST = 10**15
"""Beyond so many cents nothing of a shop's is believed."""


@dataclass(frozen=True)
class Node:
    """A table worked out in Python: `run` takes the `inputs` as frames by name and gives a frame with `columns`.

    `columns` names each column with its DuckDB type; `key` and `checks` are tested as those in a model's header.
    """

    table: str
    inputs: tuple[str, ...]
    columns: Mapping[str, str] = field(hash=False)
    run: Callable[[dict[str, pl.DataFrame]], pl.DataFrame]
    meaning: str = ""
    key: tuple[str, ...] = ()
    checks: tuple[str, ...] = ()

    def __reduce__(self) -> tuple[Any, ...]:
        # it goes to another process without its function, whose libraries are slow to load: `estimate` finds that there
        return Node, (self.table, self.inputs, self.columns, _left_behind, self.meaning, self.key, self.checks)


def _left_behind(_: dict[str, pl.DataFrame]) -> NoReturn:
    raise TypeError("This node came from another process; its function stayed there.")


def cents(amount: pl.Expr) -> pl.Expr:
    """Whole cents of an estimated amount; null where it is no number, and never more than is believed."""
    return pl.when(amount.is_finite()).then(amount.clip(-MOST, MOST)).round(0).cast(pl.Int64)


def estimate(table: str, inputs: dict[str, pl.DataFrame]) -> tuple[pl.DataFrame, str]:
    """`attempt` by the name of the table: what another process is asked to do."""
    return attempt(_by_table()[table], inputs)


def attempt(node: Node, inputs: dict[str, pl.DataFrame]) -> tuple[pl.DataFrame, str]:
    """The node's table and an empty text; or, whatever it raised, its table without rows and what was raised where."""
    columns = in_polars(node.columns)
    try:
        found = node.run(inputs)
        if found.columns != list(columns):
            raise TypeError(f"{node.table} has columns {found.columns}, not {list(columns)}")
        return found.cast(columns), ""  # type: ignore[arg-type]
    except BaseException as error:  # here, in its own process, where the place is still known
        if ends_us(error):
            raise
        return pl.DataFrame(schema=columns), place_of(error)


@cache
def _by_table() -> dict[str, Node]:
    return {node.table: node for node in nodes()}


def nodes() -> tuple[Node, ...]:
    """All nodes. Imported when asked for: their libraries are slow to load and most commands need none."""
    return tuple(node for name in MODULES for node in import_module(f"pipeline.estimates.{name}").NODES)
