"""Names of files that every system takes: a shop's folder goes from one machine to another."""

import re

NOT_EVERYWHERE = re.compile(r'[\x00-\x1f<>:"|?*\\]|[ .]$|^(con|prn|aux|nul|com\d|lpt\d) *(\.|$)', re.IGNORECASE)
"""A character, an end or a whole name that Windows refuses, whatever the suffix is."""

_CHARACTER = re.compile(r'[\x00-\x1f<>:"|?*\\/]')


def everywhere(stem: str, otherwise: str) -> str:
    """A file's name without its suffix, as near to what was given as every system takes; `otherwise` for nothing."""
    plain = _CHARACTER.sub("_", stem).rstrip(" .") or otherwise
    first, point, rest = plain.partition(".")  # con.2026.csv is con too
    return f"{first}_{point}{rest}" if NOT_EVERYWHERE.search(first.rstrip(" ")) else plain
