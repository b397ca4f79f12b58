"""What SQL can't work out: each estimate is a node of the models' graph, with named inputs and typed columns.

To add one: write `pipeline/estimates/<name>.py` with `NODES`, and name it in `MODULES`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from importlib import import_module

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


def nodes() -> tuple[Node, ...]:
    """All nodes. Imported when asked for: their libraries are slow to load and most commands need none."""
    return tuple(node for name in MODULES for node in import_module(f"pipeline.estimates.{name}").NODES)
