"""The commands: parse, call, print. The only place that catches `UserError`.

Each command imports what it needs when it runs, so that `kerfledger --help` is quick.
"""

import argparse
import json
import os
import shlex
import sys
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.commands.arguments import (
    add_answer,
    add_check,
    add_close,
    add_demo,
    add_export,
    add_map,
    add_new,
    add_peek,
    add_quote,
    add_refresh,
    add_report,
    add_shop,
    add_show,
    add_trace,
)
from pipeline.errors import UserError, call
from pipeline.processes.quiet import quiet
from pipeline.writing import whole
from pipeline.writing.internal_errors import ends_us, keep, place_of

if TYPE_CHECKING:
    import duckdb

FINE, FINDINGS, WRONG_CALL, BUG = 0, 1, 2, 3

Arguments = argparse.Namespace


@dataclass(frozen=True)
class Command:
    """A command: what it does, an example, the function that adds its arguments, the one that runs it."""

    name: str
    does: str
    example: str
    add: Callable[[argparse.ArgumentParser], None]
    run: Callable[[Arguments], int]


def main(call: list[str] | None = None) -> int:
    """Run a command. Gives 0 when all is fine, 1 for findings, 2 for a wrong call, 3 for a fault of the tool itself."""
    arguments = _parser().parse_args(call)
    with quiet():
        return _run(arguments)


def _run(arguments: Arguments) -> int:
    try:
        with whole.refused():
            return int(arguments.command.run(arguments))
    except UserError as error:
        print(error, file=sys.stderr)
        return WRONG_CALL
    except KeyboardInterrupt:
        return 130  # as a shell says it: ended by Ctrl-C
    except BrokenPipeError:
        # whoever read our output has gone; nothing must try to flush it once more at exit
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FINE
    except BaseException as error:
        if ends_us(error):
            raise
        log = keep(getattr(arguments, "folder", None), error)
        noted = f"It is noted in {log}. " if log else ""
        print(f"This is a fault of the tool, not of your files: {place_of(error)}.", file=sys.stderr)
        print(f"  {noted}Your files, and the last published database, are as they were.", file=sys.stderr)
        return BUG


def demo(arguments: Arguments) -> int:
    from pipeline.reports.brief import last_month
    from pipeline.shop import named_well
    from sample_data.make import make

    folder: Path = arguments.folder
    if (folder / "shop.toml").is_file():
        print(f"The demo shop is already in {folder}; it stays as it is.")
    elif folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise UserError("This folder holds something else.", str(folder), "Name an empty or a new one.")
    else:
        named_well(folder)
        with whole.all_of(folder):
            make(folder)
        print(f"The demo shop is in {folder}: an invented workshop, its files as messy as a real pile.")
    code = _refresh(folder, as_json=False, on=arguments.on)
    if code != FINE:
        return code
    with _open(folder) as con:
        _print(None, last_month(con, _digits(folder)), as_json=False)
    return FINE if arguments.no_show else _show(folder, arguments.port)


def new(arguments: Arguments) -> int:
    from pipeline.new_shop import WORKBOOK, new_shop

    folder: Path = arguments.folder
    new_shop(folder, arguments.start or date.today().replace(month=1, day=1))
    print(f"A new shop is in {folder}. Next:")
    print(f"  1. Look through {folder / 'shop.toml'}: who works, what an hour is worth, rent, machines, channels.")
    print(f"  2. Put your files into {folder / 'inbox'}, and write what stands nowhere yet into {folder / WORKBOOK}.")
    print(f"  3. {call('refresh', folder)} && {call('show', folder)}")
    return FINE


def map_file(arguments: Arguments) -> int:
    from pipeline.readers.separate_process import apart, standing

    standing()  # first of all, so that it loads the libraries while this process does
    from pipeline.proposing import proposal
    from pipeline.reports import mapped
    from pipeline.shop import load

    shop = load(arguments.folder)
    wrong = next((text for text in arguments.settled if "=" not in text), None)
    if wrong is not None:
        raise UserError(f"--set {wrong} says nothing.", "", "Write --set channel=market.")
    answers = dict(text.split("=", 1) for text in arguments.settled)
    file = proposal.place(shop, arguments.file)
    asked = (shop, arguments.file, arguments.record or "", answers, arguments.sheet)
    proposals = apart(shop.folder, file, proposal.named(shop, file), proposal.propose, *asked)
    wanted = proposal.without_notes(proposals) if arguments.save else []
    mapped.refuse_unsettled(wanted)
    saved = proposal.save_new(shop, wanted)
    named = shlex.quote(str(arguments.folder))
    text = [
        *mapped.text(proposals, named, arguments.record or "", bool(saved)),
        *(f"Saved {path}: look it through, then refresh." for path in saved),
    ]
    _print(mapped.data(proposals), text, arguments.json)
    return FINE if saved or all(p.used for p in proposals) else FINDINGS


def refresh(arguments: Arguments) -> int:
    return _refresh(arguments.folder, arguments.json, arguments.on, arguments.all)


def show(arguments: Arguments) -> int:
    from pipeline.database import newest
    from pipeline.shop import load

    load(arguments.folder)
    if not newest(arguments.folder):
        code = _refresh(arguments.folder, as_json=False)
        if code != FINE:
            return code
    return _show(arguments.folder, arguments.port)


def trace(arguments: Arguments) -> int:
    from pipeline.reports import trace as report

    with _open(arguments.folder) as con:
        found = report.trace(con, arguments.piece)
        _print(found.as_data(), report.text(found, _digits(arguments.folder), arguments.all), arguments.json)
    return FINE


def check(arguments: Arguments) -> int:
    from pipeline.reports import check as report
    from pipeline.reports.not_looked_at import not_looked_at

    with _open(arguments.folder) as con:
        if arguments.set_aside:
            return _write_set_aside(con, arguments.folder, arguments.set_aside)
        named = shlex.quote(str(arguments.folder))
        found = report.findings(con, named, digits := _digits(arguments.folder))
        text = [*report.text(found, digits, named), *report.kept_out(con), *not_looked_at(con)]
    _print([asdict(finding) for finding in found], text, arguments.json)
    return FINDINGS if any(finding.severity == "error" for finding in found) else FINE


def answer(arguments: Arguments) -> int:
    from pipeline.asking.answer import answer as write_down
    from pipeline.reports import questions as report

    if arguments.answers:
        told = [write_down(arguments.folder, name, choice) for name, choice in arguments.answers]
        for each in told:
            said = ", ".join(str(path) for path in each.paths)
            print(
                f"{each.ask} {each.label}.\n  It stands in {said}.", file=sys.stderr if arguments.json else sys.stdout
            )
        return _refresh(arguments.folder, arguments.json)
    with _open(arguments.folder) as con:
        asked = report.questions(con)
    named = shlex.quote(str(arguments.folder))
    _print(asked, report.text(asked, _digits(arguments.folder), named), arguments.json)
    return FINDINGS if asked else FINE


def _write_set_aside(con: "duckdb.DuckDBPyConnection", folder: Path, file: Path) -> int:
    from pipeline.refresh import corrections
    from pipeline.reports.finding import rows_of
    from pipeline.shop import load

    shop = load(folder)
    rejected = rows_of(con, "from intake.rejected order by file, sheet, row, occurrence")
    records = sorted({str(row["record"]) for row in rejected})
    names = {name: file.with_name(f"{file.stem}-{name}{file.suffix}") for name in records}
    places = names if len(records) > 1 else dict.fromkeys(records, file)
    taken = next((path for path in places.values() or (file,) if path.exists()), None)
    if taken:
        raise UserError("This file is there already; it stays as it is.", str(taken), "Name a new one.")
    for name, path in places.items():
        found, unreadable = corrections.set_aside(shop, [row for row in rejected if row["record"] == name])
        whole.write(path, corrections.csv_text(found))
        for error in unreadable:
            print(f"Without the rows of this file:\n{error}", file=sys.stderr)
        print(f"{found.height} of the rows set aside, {name}, are in {path}, with the reason of each and a mark.")
    if not places:
        print("No row is set aside.")
        return FINE
    inbox_of_mends = shop.path(corrections.FOLDER)
    print(f"Mend their cells, put what you mended into {inbox_of_mends} and refresh: each then stands for its row.")
    return FINE


def close(arguments: Arguments) -> int:
    from pipeline.database.closed_months import close as freeze
    from pipeline.shop import load

    load(arguments.folder)
    path = freeze(arguments.folder, arguments.month)
    told = [
        f"{arguments.month:%B %Y} is closed: its figures, as last published, stand in {path}.",
        "  What would change them later counts as earlier months, in the first open month, from the next refresh on.",
    ]
    _print({"closed": str(path)}, told, arguments.json)
    return FINE


def report(arguments: Arguments) -> int:
    from pipeline.reports import month, yearend

    home, digits = arguments.folder / "reports", _digits(arguments.folder)
    with _open(arguments.folder) as con:
        if arguments.month:
            path, advice = month.write(con, home, arguments.month, digits), month.NO_ADVICE
            what = f"{arguments.month:%B %Y}"
        else:
            path, advice = yearend.write(con, home, arguments.year, digits), yearend.NO_ADVICE
            what = f"The year {arguments.year}"
    _print({"report": str(path)}, [f"{what} is in {path}.", f"  {advice}"], arguments.json)
    return FINE


def export(arguments: Arguments) -> int:
    from pipeline.reports import export as report

    folder = arguments.to or arguments.folder / "reports" / "export"
    with _open(arguments.folder) as con:
        written = report.export(con, folder, arguments.format)
    told = [f"{len(written) - 1} tables are in {folder}, described in {report.DESCRIPTOR}."]
    _print({"files": [str(path) for path in written]}, told, arguments.json)
    return FINE


def quote(arguments: Arguments) -> int:
    from pipeline.pages import actions
    from pipeline.reports import quote as report

    if arguments.sheet and arguments.sheet.exists():
        raise UserError("This file is there already; it stays as it is.", str(arguments.sheet), "Name a new one.")
    found = actions.quote(arguments.folder, vars(arguments))
    if arguments.save is not None:
        found |= actions.save_quote(arguments.folder, found, tag=arguments.save)
    if arguments.sheet:
        page = actions.quote_sheet(found)
        whole.write(arguments.sheet, page)
    _print(found, report.text(found, arguments.sheet), arguments.json)
    return FINE


def peek(arguments: Arguments) -> int:
    from pipeline.readers.separate_process import standing

    standing()  # first of all, so that it loads the libraries while this process does
    from pipeline.commands.inspect import peek as look

    # the cells go on as they are, whatever the terminal's own encoding and line ends
    sys.stdout.reconfigure(encoding="utf-8", newline="\n")  # type: ignore[union-attr]
    for text in look(arguments.files, as_json=arguments.json, as_csv=arguments.csv):
        sys.stdout.write(text)
    return FINE


def where(arguments: Arguments) -> int:
    from pipeline.database import newest
    from pipeline.shop import load

    folder = load(arguments.folder).folder
    path = newest(folder)
    if not path:
        raise UserError("Nothing is published here.", str(folder), f"Run: {call('refresh', folder)}")
    _print({"database": str(path.resolve())}, [str(path.resolve())], arguments.json)
    return FINE


def _refresh(folder: Path, as_json: bool, on: date | None = None, anew: bool = False) -> int:
    from pipeline.processes.workers import other_processes
    from pipeline.shop.contents import LAST_REFRESH, changed_since

    # first of all, so that they load the libraries while this process does; not where there is nothing to do
    with other_processes(at_once=anew or changed_since(folder, folder / LAST_REFRESH)) as other:
        from pipeline.refresh.refresh import refresh
        from pipeline.reports.refreshed import data, progress, progress_end, text
        from pipeline.shop import load

        summary = refresh(load(folder), progress(), other, on, anew)
    progress_end()
    _print(data(summary), text(summary, shlex.quote(str(folder))), as_json)
    return FINE if summary.published else FINDINGS


def _show(folder: Path, port: int) -> int:
    from pipeline.commands.serve import serve

    return serve(folder, lambda text: print(text, flush=True), port)


def _open(folder: Path) -> "AbstractContextManager[duckdb.DuckDBPyConnection]":
    from pipeline.database.open_database import opened

    return opened(folder)


def _digits(folder: Path) -> int:
    from pipeline.shop import load

    return load(folder).minor_digits


def _print(data: Any, text: Iterable[str], as_json: bool) -> None:
    if as_json:
        print(json.dumps(data, indent=2, default=str, ensure_ascii=False))
        return
    for line in text:
        print(line)


COMMANDS = (
    Command(
        "demo", "make the demo shop, refresh it, print the month, show it", "kerfledger demo --no-show", add_demo, demo
    ),
    Command("new", "a new shop folder with settings and an entry workbook", "kerfledger new my-shop", add_new, new),
    Command(
        "map",
        "which column of a file is which field, to look at and to save",
        "kerfledger map my-shop inbox/till.csv --save",
        add_map,
        map_file,
    ),
    Command(
        "refresh",
        "read the shop's files and publish a new database",
        "kerfledger refresh my-shop",
        add_refresh,
        refresh,
    ),
    Command(
        "check",
        "what is wrong or missing, most valuable mend first; exit 1 on errors",
        "kerfledger check my-shop",
        add_check,
        check,
    ),
    Command(
        "answer",
        "what only you can say, most money first; answered by number",
        "kerfledger answer my-shop 1=2",
        add_answer,
        answer,
    ),
    Command("show", "the dashboard, on this machine only", "kerfledger show my-shop", add_show, show),
    Command(
        "trace",
        "a piece's cost with the records behind every line",
        "kerfledger trace my-shop T-031",
        add_trace,
        trace,
    ),
    Command(
        "quote",
        "a price for the next piece, from what such pieces took",
        "kerfledger quote my-shop --product tray --species walnut --length 16in --width 10in --thickness 1in",
        add_quote,
        quote,
    ),
    Command(
        "close",
        "freeze a month's figures; what would change them later counts as earlier months",
        "kerfledger close my-shop 2026-05",
        add_close,
        close,
    ),
    Command(
        "report",
        "a month as one page to print, or the year-end workbook for an accountant",
        "kerfledger report my-shop --month 2026-05",
        add_report,
        report,
    ),
    Command(
        "export",
        "every published table as Parquet or CSV, with a Data Package descriptor",
        "kerfledger export my-shop --format csv",
        add_export,
        export,
    ),
    Command("peek", "how any file is read, without a shop", "kerfledger peek receipts.csv --json", add_peek, peek),
    Command("where", "the path of the newest published database", "kerfledger where my-shop", add_shop, where),
)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="kerfledger",
        description="What each piece truly cost, what an hour at the bench paid, and where the material went.",
        epilog="Exit codes: 0 fine, 1 findings, 2 wrong call, 3 a fault of the tool. Begin with: kerfledger demo",
    )
    commands = parser.add_subparsers(metavar="COMMAND", required=True)
    for command in COMMANDS:
        does = command.does[0].upper() + command.does[1:] + "."
        added = commands.add_parser(
            command.name, help=command.does, description=does, epilog=f"Example: {command.example}"
        )
        command.add(added)
        added.set_defaults(command=command)
    return parser
