"""The settings of the shop as a page shows and changes them: what they say, a change tried, saved, taken back."""

from pathlib import Path

from pipeline.changing import plan as plans
from pipeline.changing import trial
from pipeline.changing.entries import Entry as Entry
from pipeline.changing.entries import Stand, stand
from pipeline.changing.entries import always_of as always_of
from pipeline.changing.entries import dated_of as dated_of
from pipeline.changing.entries import is_dated as is_dated
from pipeline.changing.plan import ALWAYS as ALWAYS
from pipeline.changing.plan import LATER as LATER
from pipeline.changing.plan import MEND as MEND
from pipeline.changing.plan import NEW as NEW
from pipeline.changing.plan import OUT as OUT
from pipeline.changing.plan import WORD as WORD
from pipeline.changing.plan import Change as Change
from pipeline.changing.plan import Planned
from pipeline.changing.plan import known_on as known_on
from pipeline.changing.typed import UnfitError as UnfitError
from pipeline.changing.typed import as_typed as as_typed
from pipeline.cleaning.taught_words import CHOICES as CHOICES
from pipeline.cleaning.taught_words import VOCABULARIES as VOCABULARIES
from pipeline.errors import UserError
from pipeline.settings import SETTINGS as SETTINGS
from pipeline.settings import Setting as Setting
from pipeline.shop import load, saved_settings
from pipeline.shop.saved_settings import LastChange
from pipeline.writing import whole


def now(folder: Path) -> Stand:
    """What `shop.toml` says. Raises `UserError`, with the line, where it can't be used."""
    shop = load(folder)
    path = folder / "shop.toml"
    with whole.refusals_told(path):
        return stand(shop, path.read_bytes())


def plan(folder: Path, drawn_from: bytes, asked: Change) -> Planned:
    """The change that a form asks for. Raises `UnfitError` for fields that can't be taken, and `UserError` where the
    settings are no longer those that the form was drawn from: its fields may say what was true before."""
    stands = now(folder)
    if stands.content != drawn_from and not _says_the_same(stand(stands.shop, drawn_from), stands, asked):
        what = "shop.toml was changed since this form was opened, by hand or on another page."
        mend = "What you typed still stands here: look it over, then press again. "
        difference = saved_settings.difference(drawn_from, stands.content)
        raise UserError(what, str(folder / "shop.toml"), f"{mend}What changed: {difference}")
    return plans.plan(stands, asked)


def _says_the_same(before: Stand, stands: Stand, asked: Change) -> bool:
    """Whether a form over a change's thing would still say what it said."""
    if before.shop["currency"] != stands.shop["currency"]:
        return False
    if asked.way == WORD:
        return before.words.get(asked.table) == stands.words.get(asked.table)

    def said(of: Stand) -> list[object]:
        return [(entry.since, entry.always, entry.dated) for entry in of.of(asked.table, asked.name)]

    return asked.way == NEW or said(before) == said(stands)


def begin_trial(folder: Path, planned: Planned) -> str:
    """Begin to work out which figures a change would change; gives the trial's name."""
    return trial.begin(folder, planned)


def trial_state(folder: Path, name: str) -> trial.State:
    """How far a trial is, and what it found."""
    return trial.state(folder, name)


def sweep_trials(folder: Path) -> None:
    """Take away what is left of trials that were killed, or that nobody waits for any more."""
    trial.sweep(folder)


def end_trial(folder: Path, name: str) -> None:
    """Forget a trial; one that runs is ended."""
    trial.end(folder, name)


def save(folder: Path, planned: Planned) -> None:
    """Put a change into `shop.toml`, and begin a refresh."""
    from pipeline.refresh import background

    saved_settings.save(folder, planned.before, planned.after, planned.said)
    background.start(folder)


def last_change(folder: Path) -> LastChange | None:
    """The last change of `shop.toml` from a page."""
    return saved_settings.last_change(folder)


def undo(folder: Path) -> str:
    """Take the last change back, and begin a refresh; gives what it was."""
    from pipeline.refresh import background

    said = saved_settings.undo(folder)
    background.start(folder)
    return said
