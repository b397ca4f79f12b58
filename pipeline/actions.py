"""What a page of the dashboard may do or ask beside reading the published database."""

from collections.abc import Mapping
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any

from pipeline.shop import Shop


def minor_digits(currency: str) -> int:
    """Decimals of an amount in this currency (ISO 4217 code): 2, or 0 where there are no minor units."""
    return Shop(Path(), {"shop": [{"currency": currency}]}).minor_digits


def quote(folder: Path, asked: Mapping[str, Any]) -> dict[str, Any]:
    """The price of a described piece: `asked` has the fields of `pipeline.quoting.Asked`, others are passed over.

    Raises `UserError` for what can't be read, or too little history. Money is in minor units.
    """
    from pipeline import quoting

    fields = {name: asked[name] for name in quoting.Asked.__dataclass_fields__ if name in asked}
    return quoting.quote(_desk(folder), quoting.Asked(**fields))


def quote_choices(folder: Path) -> dict[str, list[str]]:
    """The words that a form for a quote can offer: product, species, finish, channel, resin."""
    from pipeline import quoting

    return quoting.choices(_desk(folder))


def save_quote(folder: Path, found: dict[str, Any], channel: str = "", tag: str = "") -> dict[str, str]:
    """Save an answer of `quote` in the shop's `quotes/`, with the client's page beside it: its tag and its file."""
    from pipeline import quoting, saved_quotes

    kept = quoting.saved(found, channel)
    page = quote_sheet(found, channel, saved_quotes.TAG_OF_SHEET)
    file = saved_quotes.save(folder, kept, tag, page)
    return {"quote": file.stem, "file": str(file)}


def quote_sheet(found: dict[str, Any], channel: str = "", tag: str = "") -> str:
    """The client's page of an answer of `quote`: HTML on one printed page, price and terms, no costs."""
    from pipeline.reports.quote_sheet import sheet

    return sheet(found, channel, tag or found.get("quote", ""))


def _desk(folder: Path) -> Any:
    """The desk of the newest published database, kept while that one is the newest: a page asks many times."""
    from pipeline.database import newest

    path = newest(folder)
    stamp = path.stat().st_mtime_ns if path else 0
    settings = folder / "shop.toml"
    return _kept_desk(folder, path, stamp, settings.stat().st_mtime_ns if settings.is_file() else 0, date.today())


@lru_cache(maxsize=2)
def _kept_desk(folder: Path, _path: Path | None, _stamp: int, _settings: int, today: date) -> Any:
    from pipeline import quoting

    return quoting.open_desk(folder, today)
