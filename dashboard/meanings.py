"""What a figure means, from the data dictionary: shown by hover, by keyboard focus, and by a tap."""

from html import escape

from dashboard.view_context import Page

STOP = '<button type="button" popovertarget='
"""How the word that can be asked for its meaning begins."""


def one_stop(row: str) -> str:
    """A row of terms as HTML, of which the first is reached by the Tab key and the others from there by arrow keys."""
    before, stop, after = row.partition(STOP)
    return before + stop + after.replace(STOP, STOP.replace("<button", '<button tabindex="-1"'))


def term(page: Page, text: str, column: str, place: str) -> str:
    """The text as HTML, with what the column means. `place` tells it from the same column elsewhere on the page.

    A popover of HTML's own: a tap or Enter opens it above everything, Escape or a tap beside it closes it again. The
    style sheet shows it for hover and focus too, beside its word where the browser can place it, else at the foot.
    Of a row of terms the first alone is a stop of the Tab key (`one_stop`); `terms.js` goes on from there.
    """
    meaning = page.book.meaning(column) if column else None
    if not meaning:
        return escape(text)
    name = escape(f"means-{place}-{column}".replace(" ", "-"), quote=True)
    return (
        f'<span class="kl-term">{STOP}"{name}" aria-describedby="{name}">{escape(text)}'
        f'</button><span class="kl-tip" popover id="{name}" role="tooltip">{escape(meaning)}</span></span>'
    )
