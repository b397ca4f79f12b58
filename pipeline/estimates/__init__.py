"""What SQL can't work out: each estimate is a node of the models' graph, with named inputs and typed columns.

To add one: write `pipeline/estimates/<name>.py` with `NODES`, and name it in `MODULES`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import import_module
from typing import Any, NoReturn

import polars as pl

MODULES: tuple[str, ...] = ("untagged", "rates", "months", "savings", "quotes", "piece_today", "waste", "reconcile")
"""The modules of this folder that hold nodes."""


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


def estimate(table: str, inputs: dict[str, pl.DataFrame]) -> pl.DataFrame:
    """Work out one table: what another process is asked to do."""
    return _by_table()[table].run(inputs)


@cache
def _by_table() -> dict[str, Node]:
    return {node.table: node for node in nodes()}


def nodes() -> tuple[Node, ...]:
    """All nodes. Imported when asked for: their libraries are slow to load and most commands need none."""
    return tuple(node for name in MODULES for node in import_module(f"pipeline.estimates.{name}").NODES)
