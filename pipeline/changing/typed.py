"""Settings as one types them: `6.5 %`, `12,50`, `2026-05-31`, a list with semicolons; and what is wrong with a text."""

import re
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from pipeline.errors import UserError
from pipeline.settings import Setting
from pipeline.shop import stored_value
from pipeline.shop.settings_checks import MOST, MOST_OF_OTHERS

BETWEEN = "; "
_NUMBER = re.compile(r"\d{1,15}(?:[.,]\d{1,9})?|\d{1,3}(?:[ \u00a0\u202f'’]\d{3})+(?:[.,]\d{1,9})?")
_BOTH_MARKS = re.compile(r"\d{1,3}(?:\.\d{3})+,\d{1,9}|\d{1,3}(?:,\d{3})+\.\d{1,9}")
_THOUSANDS = re.compile(r"[1-9]\d{0,2}(?:\.\d{3}){2,}|[1-9]\d{0,2}(?:,\d{3}){2,}")
"""Numbers that can be read one way only: 1.234,50 · 1,234.50 · 1.234.567."""
_UNCLEAR = re.compile(r"[1-9]\d{0,2}[.,]\d{3}")
_MAY_BE_THOUSANDS = ("money", "rate", "count", "millilitres", "grams")
_LONGEST = 500


class UnfitError(UserError):
    """Fields that can't be taken: name of the setting → what is wrong, and what to do."""

    def __init__(self, fields: Mapping[str, str]) -> None:
        self.fields = dict(fields)
        first = next(iter(self.fields.items()))
        super().__init__(f"`{first[0]}`: {first[1]}", "", "Mend the fields that are marked.")


def as_typed(setting: Setting, value: Any, minor: int = 2) -> str:
    """A value of `shop.toml` as it stands in a form, money with so many decimals at least; "" for none."""
    if value is None:
        return ""
    if setting.kind == "yes_no":
        return "yes" if value else "no"
    if setting.kind == "share":
        return f"{_short(Decimal(str(value)) * 100)} %"
    if setting.kind == "names":
        return BETWEEN.join(value)
    if setting.kind in _MAY_BE_THOUSANDS:
        text = _short(Decimal(str(value)), minor if setting.kind in ("money", "rate") else 0)
        return f"{text}0" if _UNCLEAR.fullmatch(text) else text
    return _short(Decimal(str(value))) if isinstance(value, int | float | Decimal) else str(value)


def values_of(
    settings: tuple[Setting, ...], typed: Mapping[str, str], minor: int, known: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """The values that texts of a form mean, None where one is left empty. Raises `UnfitError` with all that are wrong.

    What may stand there is the loader's to say: each value is read as it would be from the file. `known`: what the form
    said at first. A text that still says it is not read anew: it may be one that no field of a form can hold.
    """
    found: dict[str, Any] = {}
    wrong: dict[str, str] = {}
    for setting in settings:
        if setting.name not in typed:
            continue
        text = typed[setting.name].strip()
        if known and setting.name in known and text == as_typed(setting, known[setting.name], minor).strip():
            found[setting.name] = known[setting.name]
            continue
        try:
            found[setting.name] = value = _value(setting, text)
            if value is not None:
                stored_value(setting, value, "", minor)
            elif setting.required:
                raise UserError("It is needed.", "", setting.why)
        except UserError as error:
            wrong[setting.name] = f"{error.what} {error.mend}".strip()
    if wrong:
        raise UnfitError(wrong)
    return found


def day_of(text: str) -> date | None:
    """The day of the field `from`; None where it is left empty. Raises `UnfitError`."""
    try:
        return date.fromisoformat(text) if text.strip() else None
    except ValueError:
        raise UnfitError({"from": f"“{text}” is no day. Write it as 2026-05-31."}) from None


def _value(setting: Setting, text: str) -> Any:
    if not text:
        return None
    if len(text) > _LONGEST or any(ord(c) < 32 or 0x7F <= ord(c) < 0xA0 or 0xD800 <= ord(c) < 0xE000 for c in text):
        raise UserError("This can't stand in a setting.", "", "Write it on one line, with fewer than 500 letters.")
    if setting.name == "currency" and not re.fullmatch("[A-Z]{3}", text):
        raise UserError(f"“{text}” is no currency.", "", "Write its three letters, as EUR or USD.")
    match setting.kind:
        case "text" | "choice" | "zone":
            return text
        case "names":
            return [part for each in re.split("[;,]", text) if (part := each.strip())]
        case "yes_no":
            if text not in ("yes", "no"):
                raise UserError(f"“{text}” is neither yes nor no.", "", "Choose one of them.")
            return text == "yes"
        case "date":
            return day_of_setting(text)
        case "share":
            return _share(text)
        case "count":
            number = _number(text, setting.kind)
            if number != number.to_integral_value():
                raise UserError(f"“{text}” is no whole number.", "", "Write it without decimals.")
            return int(number)
        case _:
            return _number(text, setting.kind)


def day_of_setting(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise UserError(f"“{text}” is no day.", "", "Write it as 2026-05-31.") from None


def _share(text: str) -> Decimal:
    bare = text.removesuffix("%").strip()
    number = _number(bare, "per cent")
    if bare == text and 0 < number < 1:
        mend = f"Write {_short(number * 100)} % or {_short(number)} %, whichever is meant."
        raise UserError(f"Is “{text}” a share, or per cent?", "", mend)
    if number > 100:
        raise UserError(f"{_short(number)} % is more than all of it.", "", "Write at most 100 %.")
    return number / 100


def _number(text: str, kind: str) -> Decimal:
    if _BOTH_MARKS.fullmatch(text):
        text = re.sub(r"[.,](?=.*[.,])", "", text)
    elif _THOUSANDS.fullmatch(text):
        text = re.sub("[.,]", "", text)
    if not _NUMBER.fullmatch(text):
        raise UserError(f"“{text}” is no number.", "", "Write it as 12.50, without a sign or a unit.")
    if kind in _MAY_BE_THOUSANDS and _UNCLEAR.fullmatch(text):
        whole, rest = re.split("[.,]", text)
        raise UserError(f"“{text}” can be read two ways.", "", f"Write {whole}{rest}, or {whole}.{rest}0.")
    number = Decimal(re.sub(r"[ \u00a0\u202f'’]", "", text).replace(",", "."))
    most = MOST.get(kind, MOST_OF_OTHERS)
    if number > most:
        raise UserError(f"“{text}” is more than a workshop has.", "", f"Write at most {most:,}.")
    return number


def _short(number: Decimal, digits: int = 0) -> str:
    """A number without noughts that say nothing, but for so many decimals."""
    whole, _, rest = f"{number:f}".partition(".")
    rest = rest.rstrip("0").ljust(digits, "0")
    return f"{whole}.{rest}" if rest else whole
