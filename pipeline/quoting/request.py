"""What a client asks for, in words and sizes as one writes them, turned into what the predictor knows."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal
from difflib import get_close_matches
from fractions import Fraction
from math import pi
from typing import Any

import polars as pl

from pipeline.cleaning.money import amount
from pipeline.cleaning.parsed import UnreadableError
from pipeline.cleaning.quantities import Reader
from pipeline.cleaning.synonyms import Words
from pipeline.cleaning.units import Units
from pipeline.errors import FAULTS, UserError
from pipeline.estimates.quotes import Described
from pipeline.shop import Shop

MOST_UNITS = 1000
SIZES = ("length", "width", "thickness", "diameter")


@dataclass(frozen=True)
class Request:
    """A piece as one describes it. Sizes and money are texts: `16 in`, `40.5 cm`, `24.50`; a bare size is in the
    shop's unit (mm, or inches where it counts in US units). Carving, resin and hardware are what it takes *beyond* such
    a piece as usually made; set-up is bench time that the whole run takes once.
    """

    product: str
    species: str = ""
    finish: str = ""
    length: str = ""
    width: str = ""
    thickness: str = ""
    diameter: str = ""
    quantity: int = 1
    carving_minutes: float = 0.0
    setup_minutes: float = 0.0
    resin_grams: float = 0.0
    resin: str = ""
    hardware: str = ""
    margin: float | None = None
    pay: str = ""
    channel: str = ""


@dataclass(frozen=True)
class Sized:
    """One unit's sizes in micrometres, None where not named, with its area and volume."""

    length_um: int | None
    width_um: int | None
    thickness_um: int | None
    diameter_um: int | None

    @property
    def area_mm2(self) -> int | None:
        """Whole surface of the block or disc; a thickness that is not named counts for nothing (as in the books)."""
        high = (self.thickness_um or 0) / 1000
        if self.diameter_um:
            across = self.diameter_um / 1000
            return round(pi / 2 * across * (across + 2 * high))
        if self.length_um and self.width_um:
            long, wide = self.length_um / 1000, self.width_um / 1000
            return round(2 * (long * wide + long * high + wide * high))
        return None

    @property
    def volume_mm3(self) -> int | None:
        if not self.thickness_um:
            return None
        high = self.thickness_um / 1000
        if self.diameter_um:
            return round(pi / 4 * (self.diameter_um / 1000) ** 2 * high)
        if self.length_um and self.width_um:
            return round(self.length_um / 1000 * self.width_um / 1000 * high)
        return None


def read_request(asked: Request, shop: Shop, history: pl.DataFrame) -> tuple[Request, Described, Sized, list[str]]:
    """The same with the shop's own words; the description without extra material; its sizes; and what one should know.

    Raises `UserError` for a size or amount that can't be read, or a number that can't be right.
    """
    if not asked.product.strip():
        raise UserError("A quote needs a product.", "--product", "Name what kind of piece it is.")
    _check(asked)
    notes: list[str] = []
    words: dict[str, Any] = {}
    for field in ("product", "species", "finish"):
        word, note = _word(field, getattr(asked, field), shop, history)
        words[field] = word
        notes += [note] if note else []
    sizes = Sized(*(length(getattr(asked, name), shop, name) for name in SIZES))
    words |= {name: with_unit(getattr(asked, name), shop) for name in SIZES}
    asked = replace(asked, **words)
    area, volume = sizes.area_mm2, sizes.volume_mm3
    if area is None:
        _must_be_known(asked.product, shop, history)
        area, volume = _usual_size(asked.product, history)
        usual = f"No size is given, so the middle {asked.product} stands in."
        notes.append(usual if area else "No size is given and none is usual: the spread is wide.")
    elif volume is None:
        # without a volume a piece would count as one of unknown size, which costs far more than its area tells
        volume = _usual_volume(asked.product, area, history)
        notes += [f"No thickness is given, so that of the middle {asked.product} stands in."] if volume else []
    described = Described(
        asked.product,
        asked.species,
        asked.finish,
        area,
        volume,
        asked.quantity,
        extra_seconds=round(asked.carving_minutes * 60),
        setup_seconds=round(asked.setup_minutes * 60),
    )
    return asked, described, sizes, notes


def _check(asked: Request) -> None:
    if not 1 <= asked.quantity <= MOST_UNITS:
        raise UserError(f"A run of {asked.quantity} can't be quoted.", "--quantity", f"Between 1 and {MOST_UNITS}.")
    for name in ("carving_minutes", "setup_minutes", "resin_grams"):
        value = getattr(asked, name)
        if not 0 <= value < 1e6:  # also refuses what is no number
            raise UserError(f"{value!r} can't be right.", f"--{name.replace('_', '-')}", "Write a plain number.")
    if asked.margin is not None and not 0 <= asked.margin < 1:
        mend = "A margin is a share of the price: 0.4 is 40 %. (A markup of 67 % is a margin of 40 %.)"
        raise UserError(f"A margin of {asked.margin:g} leaves no price.", "--margin", mend)


def with_unit(text: str, shop: Shop) -> str:
    """A bare size with the unit that it was taken to be in: it will stand on the client's page."""
    text = text.strip()
    bare = text and not any(c.isalpha() or c in "\"'″′”’" for c in text)
    return f"{text} {bare_unit(shop)}" if bare else text


def bare_unit(shop: Shop) -> str:
    return "in" if shop["units"] == "us" else "mm"


def length(text: str, shop: Shop, name: str) -> int | None:
    """Micrometres; a bare number is in the shop's unit."""
    reader = Reader(Units(shop.words.get("unit")), ".", bare_unit(shop), ("um",))
    found = _readable(lambda: reader.read(text)[0], text, name) if text.strip() else None
    if found is not None and found <= 0:
        raise UserError(f"{text!r} is no size.", f"--{name}", FAULTS["range"].mend)
    return found


def money(text: str, shop: Shop, name: str) -> int:
    """Minor units, never below zero; nothing written is zero."""
    if not text.strip():
        return 0
    value: Fraction = _readable(lambda: amount(text, ".")[0], text, name)
    if value < 0:
        raise UserError(f"{text!r} is below zero.", f"--{name}", FAULTS["money"].mend)
    return round(value * 10**shop.minor_digits)


def ppm(share: float) -> int:
    """0.4 → 400000, as it was written and not as a computer keeps it."""
    return int(Decimal(str(share)) * 1_000_000)


def _readable(reading: Callable[[], Any], text: str, name: str) -> Any:
    try:
        return reading()
    except UnreadableError as fault:
        known = FAULTS[fault.code]
        raise UserError(f"{known.title}: {text!r}.", f"--{name}", fault.hint or known.mend) from None


def _word(field: str, text: str, shop: Shop, history: pl.DataFrame) -> tuple[str, str]:
    """The word as the shop's records have it, and what to say if they don't."""
    if not text.strip():
        return "", ""
    words = Words(field, shop)
    try:
        word = words.find(text) or words.kept(text)
    except UnreadableError as fault:
        raise UserError(f"{text!r} means more than one {field}.", f"--{field}", fault.hint) from None
    made = history[field].drop_nulls().unique().to_list()
    alike = {m.casefold(): m for m in made}
    for known in (text.strip(), word):
        if known.casefold() in alike:
            return alike[known.casefold()], _taken_for(text.strip(), alike[known.casefold()], made)
    holding = [m for m in sorted(made) if word.casefold() in m.casefold()]
    near = holding[:3] or get_close_matches(word, sorted(made), 1, 0.7)
    hint = f" Did you mean {' or '.join(near)}?" if near else ""
    return word, f"“{word}” was never made here, so the spread is wider.{hint}"


def _taken_for(text: str, taken: str, made: list[str]) -> str:
    """What a word was taken for where others of its name are made here too; nothing where it is sure."""
    others = [m for m in sorted(made) if text.casefold() in m.casefold() and m != taken]
    if text.casefold() == taken.casefold() or not others:
        return ""
    return f"“{text}” is taken as {taken}; made here too: {', '.join(others)}. Name the one that you mean."


def _must_be_known(product: str, shop: Shop, history: pl.DataFrame) -> None:
    """Of something never made, without a size, nothing is known: the shop's other pieces say nothing of its cost."""
    made = history["product"].drop_nulls().unique().to_list()
    if product in made:
        return
    _, note = _word("product", product, shop, history)
    hint = note.partition("wider.")[2].strip()
    mend = "Give its length, width and thickness (or diameter), or choose the product that is most like it."
    raise UserError(
        f"“{product}” was never made here and no size is given: nothing tells what it takes.",
        "--length",
        f"{hint} {mend}".strip(),
    )


def _usual_size(product: str, history: pl.DataFrame) -> tuple[int | None, int | None]:
    of = history.filter(pl.col("product") == product).select(
        (pl.col(c) / pl.col("quantity").fill_null(1).clip(1)).median() for c in ("area_mm2", "volume_mm3")
    )
    area, volume = of.row(0)
    return area and round(area), volume and round(volume)


def _usual_volume(product: str, area_mm2: int, history: pl.DataFrame) -> int | None:
    """The volume of a piece of that area, as thick as the product's pieces usually are; None where none is known."""
    of = history.filter(pl.col("product") == product, pl.col("area_mm2") > 0)
    depth = of.select((pl.col("volume_mm3") / pl.col("area_mm2")).median()).item()
    return depth and round(depth * area_mm2)
