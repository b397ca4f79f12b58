"""Charts as they are sent: built and proved against Vega-Lite's schema once, and kept by what they were drawn of."""

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import polars as pl

KEPT = 256
"""Pictures kept over all sessions: building one takes tens of milliseconds, and pages run again at every click."""


@dataclass(frozen=True)
class SentChart:
    """A picture: its title as text, the specification without it (for a page) and with it (for a file)."""

    title: str
    bare: dict[str, Any]
    spec: dict[str, Any]


_DRAWN: OrderedDict[tuple[Any, ...], SentChart] = OrderedDict()
_LOCK = threading.Lock()


def sent_chart(chart: Callable[..., Any], *parts: Any, **named: Any) -> SentChart:
    """What the chart function makes of these frames, texts and colours; the same parts are drawn once."""
    key = (
        chart.__module__,
        chart.__qualname__,
        *map(_key, parts),
        *((name, _key(part)) for name, part in named.items()),
    )
    with _LOCK:
        if key in _DRAWN:
            _DRAWN.move_to_end(key)
            return _DRAWN[key]
    made = chart_data(chart(*parts, **named))
    with _LOCK:
        _DRAWN[key] = made
        while len(_DRAWN) > KEPT:
            _DRAWN.popitem(last=False)
    return made


def chart_data(chart: Any) -> SentChart:
    """A chart as plain data."""
    spec = chart.to_dict()
    title = spec.get("title", {}).get("text", "")
    bare = {name: value for name, value in spec.items() if name != "title"}
    return SentChart(title, bare, spec)


def clickable(bare: dict[str, Any], field: str) -> dict[str, Any]:
    """The specification with the selection `picked`, by the mark's `field`, where the chart brings none of its own."""
    if any(param["name"] == "picked" for param in bare.get("params", ())):
        return bare
    picked = {"name": "picked", "select": {"type": "point", "fields": [field], "toggle": False}}
    if "layer" in bare:  # a selection belongs to one of them
        first, *rest = bare["layer"]
        return bare | {"layer": [clickable(first, field), *rest]}
    return bare | {"params": [*bare.get("params", ()), picked]}


def _key(part: Any) -> Any:
    if isinstance(part, pl.DataFrame):
        return part.write_ipc(None).getvalue()
    return part if part.__hash__ else repr(part)


def svg(picture: SentChart) -> bytes:
    """The picture with its title as SVG, made without a browser."""
    import vl_convert

    return vl_convert.vegalite_to_svg(_sized(picture.spec)).encode()


def png(picture: SentChart) -> bytes:
    """The picture with its title as PNG, at twice the size for print."""
    import vl_convert

    return vl_convert.vegalite_to_png(_sized(picture.spec), scale=2)


def _sized(spec: dict[str, Any]) -> dict[str, Any]:
    # on a page the width is the window's; paper has one, and room beside it for the names
    return spec | {"width": spec.get("width", 640), "autosize": {"type": "pad"}}
