"""What a page of the dashboard may do or ask beside reading the published database."""

from pathlib import Path

from pipeline.shop import Shop


def minor_digits(currency: str) -> int:
    """Decimals of an amount in this currency (ISO 4217 code): 2, or 0 where there are no minor units."""
    return Shop(Path(), {"shop": [{"currency": currency}]}).minor_digits
