"""Whether anything has changed since the last refresh: where nothing has, what it published and said holds as it is.

What it was made from and a hash of what it published are kept beside the files that were read. A database of which a
byte has changed since is made anew.
"""

from hashlib import file_digest
from pathlib import Path
from typing import Any

from pipeline import database
from pipeline.refresh import file_cache
from pipeline.shop import Shop
from pipeline.shop.contents import LAST_REFRESH

NAME = LAST_REFRESH.name


def unchanged(shop: Shop, signature: str) -> dict[str, Any] | None:
    """What the last refresh gave, as the fields of a summary, where it was made from the same on the same day and is
    still the last; else None."""
    last = database.newest(shop.folder)
    kept = file_cache.value_of(shop.path("database"), NAME, ()) if last else None
    if not last or not isinstance(kept, dict):
        return None
    if kept.pop("made_from", "") != _made_from(shop, signature) or kept.pop("hash", "") != _hash(last):
        return None
    return {**kept, "published": last}


def note(shop: Shop, signature: str, published: Path, **said: Any) -> None:
    """Keep what was published from all this, and what was said of it."""
    made_from = _made_from(shop, signature)
    file_cache.keep(shop.path("database"), NAME, {"made_from": made_from, "hash": _hash(published), **said}, ())


def _made_from(shop: Shop, signature: str) -> str:
    return f"{signature} {shop['as_of']}"


def _hash(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return file_digest(file, "blake2b").hexdigest()
    except OSError:
        return ""
