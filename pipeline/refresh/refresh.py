"""The story: from a shop's files to a new published database."""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

import polars as pl

from pipeline import database, reference
from pipeline.asking import gather
from pipeline.database import Draft
from pipeline.database.plan import Plan, read_plan
from pipeline.database.run import Early, plan_lightly, run_checks, run_models
from pipeline.errors import UserError
from pipeline.linking import Linked, link
from pipeline.linking.spellings import unknown_items
from pipeline.processes.workers import Workers
from pipeline.refresh import corrections, last_refresh
from pipeline.refresh.future_events import PLANNED, leave_planned
from pipeline.refresh.passed_over import LIKE_NOTHING
from pipeline.refresh.read_files import COUNTED, FILE, IGNORED, FilesRead, Tell, read_files
from pipeline.refresh.table_account import COLUMN, LIKELY, likely_sizes, likely_tags
from pipeline.shop import Shop, load
from pipeline.writing import internal_errors, whole
from pipeline.writing.internal_errors import ends_us, place_of

SMALL_PILE = 50_000
"""Below so many rows a query is done before a second thread could help; the models still run two at a time."""

FEW_ROWS = 10_000
"""Below so many rows a query is done before a better plan of it could help, and to find that takes longer."""

FAILED = "select estimate, fault from intake.failed_estimate order by estimate"


@dataclass
class Summary:
    """What a refresh did. `published` is None when a check of severity error found rows: the last database stays."""

    published: Path | None = None
    counts: dict[str, int] = field(default_factory=dict)
    seconds: dict[str, float] = field(default_factory=dict)
    checks: list[dict[str, Any]] = field(default_factory=list)
    unmapped: list[tuple[str, str]] = field(default_factory=list)  # file, what is open about it
    passed: list[str] = field(default_factory=list)  # files that look like nothing of the shop
    unchanged: bool = False  # the last database was made from these very files, settings and day, and stays

    @property
    def errors(self) -> list[dict[str, Any]]:
        return [check for check in self.checks if check["severity"] == "error" and check["rows"]]


def refresh(
    shop: Shop,
    tell: Tell = lambda _: None,
    other: Workers | None = None,
    on: date | None = None,
    anew: bool = False,
) -> Summary:
    """Read all files of the shop and publish a new database. `other`: other processes to read the files.
    `on`: the day that it is for, today by the shop's clock; what a calendar holds after it is planned, in no figure.
    `anew`: work everything out, also what can be taken over from the last database; the figures are the same.

    Raises `UserError` for a broken setting or mapping, and `ModelError` for a bug of ours; either way the last
    published database stays.
    """
    summary = Summary()
    stage = _stages(summary.seconds, tell)
    with database.lock(shop.folder):
        whole.sweep(shop.folder)
        planned = other.submit(read_plan) if other and other.at_once else None
        shop = load(shop.folder)  # again: it may have changed while another refresh held the lock
        with stage("read and clean"):
            pile = read_files(shop, tell, other, anew)
            internal_errors.note(shop.folder / "database", pile.trips)
        shop = shop.as_of(on or shop.now().date())
        if pile.known and (last := last_refresh.unchanged(shop, pile.signature)):
            return replace(summary, **last, unchanged=True)
        with stage("link"):
            leave_planned(pile, shop["as_of"])
            pile.asked = gather.with_times(pile.asked, shop)
            linked = link(pile.cleaned, shop)
            linked.row = corrections.superseded(linked.row, pile.mends)
            linked.rejected = corrections.at_their_place(linked.rejected, pile.mends)
            linked.unknown_word = unknown_items(linked, shop)
            frames = tables(linked, pile) | {"intake.quote": pile.quotes}
            summary.counts = _counts(frames["intake.file"], frames["intake.ignored"])
            summary.passed = sorted(set(frames["intake.file"].filter(message=LIKE_NOTHING)["file"]))
            summary.unmapped = frames["intake.file"].filter(how="unmapped").select("file", "message").rows()
        plan = planned.result() if planned else read_plan()
        for from_nothing in (anew, True):
            with database.draft(shop.folder, from_nothing) as draft:
                try:
                    early = Early(gather.OF_ALL, partial(_ask, draft, linked, pile, shop, summary))
                    failed = _make(draft, frames, plan, other, stage, summary, early)
                    break
                except (UserError, OSError):  # the disk's word, which would be the same
                    raise
                except Exception as error:
                    if ends_us(error) or not draft.digests.last:
                        raise
                    # whatever was taken over may be the cause, such as a block of the last database that is damaged
                    internal_errors.note(shop.folder / "database", [f"All is worked out anew: {place_of(error)}"])
        if summary.published and not failed:  # an estimate that failed is tried again
            said = {"counts": summary.counts, "checks": summary.checks, "unmapped": summary.unmapped}
            said |= {"passed": summary.passed}
            last_refresh.note(shop, pile.signature, summary.published, **said)
    return summary


def _make(
    draft: Draft,
    frames: dict[str, pl.DataFrame],
    plan: Plan,
    other: Workers | None,
    stage: Any,
    summary: Summary,
    early: Early,
) -> bool:
    """From the given tables to the published database; whether an estimate could not be worked out."""
    with stage("load"):
        database.load(draft.con, frames, draft.digests)
        if summary.counts["rows"] < SMALL_PILE:
            draft.con.execute("set threads = 1")
        if summary.counts["rows"] < FEW_ROWS:
            plan_lightly(draft.con)
    with stage("models"):
        run_models(draft.con, lambda _: None, plan, other, draft.digests, early)
        failed = draft.con.execute(FAILED).fetchall()
        internal_errors.note(draft.path.parent, (f"{name} could not be worked out: {why}" for name, why in failed))
    with stage("checks"):
        summary.checks = run_checks(draft.con, plan, draft.digests)
        draft.digests.write(draft.con)
    if not summary.errors:
        with stage("publish"):
            summary.published = draft.publish()
    return bool(failed)


def _ask(draft: Draft, linked: Linked, pile: FilesRead, shop: Shop, summary: Summary) -> None:
    """Fill the tables of questions: those of each file, and those of all files together, which models tell."""
    asked = gather.frames([*pile.asked, *gather.of_all(draft.con, shop)], linked)
    database.load(draft.con, asked, draft.digests)
    summary.counts["questions"] = asked["intake.question"].height


def tables(linked: Linked, pile: FilesRead) -> dict[str, pl.DataFrame]:
    """All given tables by `schema.name`, but those of questions."""
    ignored = pl.concat([pl.DataFrame(schema=IGNORED), *pile.ignored])
    taken_of_all = (likely_tags(linked), likely_sizes(linked))
    return (
        {f"settings.{name}": frame for name, frame in linked.settings.items()}
        | {"settings.species": species(), "settings.layer": layers()}
        | {f"records.{name}": frame for name, frame in (linked.records | linked.bridges).items()}
        | {
            "intake.file": _account(pl.DataFrame(pile.files, schema=FILE), linked, ignored),
            "intake.row": linked.row,
            "intake.rejected": linked.rejected,
            "intake.ignored": ignored,
            "intake.unknown_word": linked.unknown_word,
            "intake.unlinked": linked.unlinked,
            "intake.likely_word": pl.concat([pl.DataFrame(schema=LIKELY), *pile.likely, *taken_of_all]),
            "intake.column": pl.concat([pl.DataFrame(schema=COLUMN), *pile.columns]),
            "intake.closed": pile.closed,
        }
    )


def species() -> pl.DataFrame:
    """The reference table of species, as far as the models need it."""
    known = pl.DataFrame(list(reference.rows("species")))
    gravity = pl.col("specific_gravity_12").cast(pl.Float64, strict=False)
    return known.select(
        pl.col("common_name").alias("species"), "botanical_name", pl.col("pore_structure").replace("", None), gravity
    )


def layers() -> pl.DataFrame:
    """The reference table of the layers of cost, as the models need it."""
    known = pl.DataFrame(list(reference.rows("layers"))).with_row_index("position", 1)
    return known.select("layer", "cost_group", pl.col("position").cast(pl.Int64), pl.col("in_piece") == "yes")


def _account(files: pl.DataFrame, linked: Linked, ignored: pl.DataFrame) -> pl.DataFrame:
    """What became of each table's rows. Counted at the end of the way, so that a row lost on it shows."""
    place = ("file", "sheet")
    loaded = pl.col("state") == "loaded"
    counted = (
        linked.row.group_by(place).agg(loaded.sum().alias("loaded"), (~loaded).sum().alias("duplicate")),
        linked.rejected.group_by(place).agg(pl.len().alias("set_aside")),
        ignored.group_by(place).agg(pl.len().alias("ignored")),
    )
    for counts in counted:
        files = files.join(counts, on=place, how="left", maintain_order="left")
    return files.with_columns(pl.col(COUNTED).fill_null(0).cast(pl.Int64))


def _counts(files: pl.DataFrame, ignored: pl.DataFrame) -> dict[str, int]:
    sums = files.select("rows", *COUNTED, "masked").sum().row(0, named=True)
    ways = {how: files.filter(how=how)["file"].n_unique() for how in ("unreadable", "unmapped")}
    # of what is ignored, the rows of tables that are still to be settled
    asked = {"asked": ignored.filter(reason="no mapping").height, "planned": ignored.filter(reason=PLANNED).height}
    return {"files": files["file"].n_unique()} | sums | asked | ways


def _stages(seconds: dict[str, float], tell: Tell) -> Callable[[str], Any]:
    @contextmanager
    def stage(name: str) -> Iterator[None]:
        tell(name)
        begin = time.perf_counter()
        yield
        seconds[name] = time.perf_counter() - begin

    return stage
