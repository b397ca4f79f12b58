"""What an event's title says: the operation, the pieces, whether it is rework, and a note. For whom it was is dropped.

"Sanding for" somebody is sanding. Only where what stands before "for" is a known operation, so that no other word is
lost.
"""

import re
from collections.abc import Collection

from pipeline.reference import before_for, key, names

_TAG = r"(?:[A-Z]{1,4}|[a-z])-\d+[a-z]?"
_TAGS = re.compile(
    rf"\b{_TAG}(?:\s*\.\.\s*{_TAG})?(?:(?:\s*[,;&+/]\s*|\s+(?:and|und|et)\s+)\b{_TAG}(?:\s*\.\.\s*{_TAG})?)*"
)
_RUN = re.compile(rf"{_TAG}(?:\s*\.\.\s*{_TAG})?")
_REWORK = re.compile(r"[(\[]?\bre-?work\b[)\]]?", re.IGNORECASE)
_EDGES = " \t\n,;:-–—()[]"
_ENDS = re.compile(r"[:,;()\[\]\n]|\s[-–—]\s")


def title_parts(title: str) -> tuple[str, str, str, str]:
    """Operation, pieces, "yes" for rework, and note, from an event's title."""
    rework = "yes" if _REWORK.search(title) else ""
    text = _REWORK.sub(" ", title)
    pieces = "; ".join(re.sub(r"\s+", "", run) for found in _TAGS.finditer(text) for run in _RUN.findall(found[0]))
    parts = [" ".join(part.strip(_EDGES).split()) for part in _TAGS.split(text)]
    parts = [part for part in parts if part]
    if not parts:
        return "", pieces, rework, ""
    operation, _, more = parts[0].partition(":")
    notes = [more.strip(), *(part.removeprefix("for ").strip() for part in parts[1:])]
    return (
        operation.strip().removesuffix(" for").removesuffix(" on").strip(_EDGES),
        pieces,
        rework,
        "; ".join(n for n in notes if n),
    )


def without_name(title: str, own: Collection[str] = ()) -> str:
    """The title without whom it was for; `own` are the shop's own words for operations."""
    known = names("operation").keys() | {key(word) for word in own}
    operation = title_parts(title)[0]
    if key(operation) in known and before_for(operation):
        return title  # the shop's own word, such as "sanding for fairs"
    for before in before_for(title):
        if key(title_parts(before)[0]) in known:
            at = len(before)
            ends = [found.start() for found in (_ENDS.search(title, at), _TAGS.search(title, at)) if found]
            return f"{before} {title[min(ends, default=len(title)) :]}".strip()
    return title
