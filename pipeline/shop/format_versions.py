"""The version of its form that a file of the shop's own says it is in; one newer than this program knows is refused.

A file that says none is in form 1. Whoever changes a form adds one to its number here, reads the older ones as before,
and adds a folder as the last program made it to the tests, beside `form_1`.
"""

from typing import Any

from pipeline.errors import UserError

KEY = "form"
"""The name under which a file says it."""

NEWEST = {"settings file": 1, "mapping": 1, "mend": 1, "log": 2, "quote": 1}
"""What has a form → the newest that is known here."""


def refuse_newer(what: str, given: Any, where: str) -> None:
    """Raise `UserError` for a form that is not known here; `given` is what the file says, None where it says none."""
    newest = NEWEST[what]
    if given is None:
        return
    if isinstance(given, bool) or not isinstance(given, int) or given < 1:
        raise UserError(f"`{KEY}` can't be {given!r}.", where, f"Write {KEY} = {newest}, or take the line out.")
    if given > newest:
        raise UserError(
            f"This {what} is in form {given}, and this program knows none above {newest}.",
            where,
            "Use the newer program that wrote it. Nothing was changed.",
        )
