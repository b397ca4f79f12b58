"""What a refresh says when it is done."""

import shlex
import sys
from collections.abc import Callable, Iterator
from typing import Any

from pipeline.refresh.refresh import Summary
from pipeline.reports.words import count, masked

_WORDS = {
    "loaded": "loaded",
    "duplicate": "seen twice or replaced",
    "set_aside": "set aside",
    "ignored": "no records (titles, totals, blank rows)",
}


def data(summary: Summary) -> dict[str, Any]:
    """The summary for JSON."""
    return {
        "published": str(summary.published) if summary.published else None,
        "counts": summary.counts,
        "seconds": summary.seconds,
        "checks": summary.checks,
        "unmapped": [{"file": file, "open": questions} for file, questions in summary.unmapped],
    }


def text(summary: Summary, shop: str = "DIR") -> Iterator[str]:
    """The summary as lines of text; `shop` is the folder as the maker named it."""
    counts = summary.counts
    yield f"{count(counts['rows'], 'row')} in {count(counts['files'], 'file')}:"
    for key, words in _WORDS.items():
        yield f"  {counts[key] - (counts['asked'] + counts['planned'] if key == 'ignored' else 0):>9,}  {words}"
    if counts["planned"]:
        yield f"  {counts['planned']:>9,}  planned, in no figure"
    if counts["asked"]:
        yield f"  {counts['asked']:>9,}  still to be settled, in {count(counts['unmapped'], 'file')}"
    if counts["unreadable"]:
        yield f"{count(counts['unreadable'], 'file')} can't be read"
    if counts["masked"]:
        yield masked(counts["masked"])
    for file, questions in dict(reversed(summary.unmapped)).items():
        yield f"  {file}: {questions}"
        yield f"    settle it with: kerfledger map {shop} {shlex.quote(file)}"
    for file in summary.passed:
        yield f"  {file}: passed over, since nothing in it looks like a record of the shop"
    if counts.get("questions"):
        yield f"  {count(counts['questions'], 'question')} that only you can answer: kerfledger answer {shop}"
    warnings = sum(check["severity"] == "warning" and check["rows"] > 0 for check in summary.checks)
    if counts["set_aside"] or warnings or counts["unreadable"] or counts["unmapped"]:
        yield f"  What to mend, most valuable first: kerfledger check {shop}"
    total = sum(summary.seconds.values())
    yield f"{total:.1f} s ({', '.join(f'{name} {seconds:.1f}' for name, seconds in summary.seconds.items())})"
    if summary.published:
        nothing = "Nothing has changed since the last refresh; its figures stay: "
        yield f"{nothing if summary.unchanged else 'Published '}{summary.published}"
        return
    yield "NOT published: the books don't add up. The last published database stays."
    for check in summary.errors:
        yield f"  {check['name']}: {check['meaning']} ({count(check['rows'], 'row')}, such as {check['example']})"


def progress() -> Callable[[str], None]:
    """Tells how far a refresh is on one line, where somebody watches."""
    if not sys.stderr.isatty():
        return lambda _: None
    return lambda text: print(f"\r\x1b[2K{text[:78]}", end="", file=sys.stderr, flush=True)


def progress_end() -> None:
    """Takes that line away again."""
    if sys.stderr.isatty():
        print("\r\x1b[2K", end="", file=sys.stderr, flush=True)
