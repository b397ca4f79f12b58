"""The commands: parse, call, print. A `UserError` is caught here alone, and where one of several answers is refused.

Each command imports what it needs when it runs, so that `kerfledger --help` is quick.
"""

import argparse
import os
import shlex
import sys
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.commands.arguments import (
    add_answer,
    add_backup,
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
    add_restore,
    add_shop,
    add_show,
    add_trace,
)
from pipeline.commands.shared import BUG, FINDINGS, FINE, WRONG_CALL, money_digits, open_database, printed, refreshed
from pipeline.errors import UserError, call
from pipeline.processes.quiet import quiet
from pipeline.writing import whole
from pipeline.writing.internal_errors import ends_us, keep, place_of

if TYPE_CHECKING:
    from pipeline.commands.shop_floor import ShopFloor

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
    code = refreshed(folder, as_json=False, on=arguments.on)
    if code != FINE:
        return code
    with open_database(folder) as con:
        printed(None, last_month(con, money_digits(folder)), as_json=False)
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
    from pipeline.readers.separate_process import standing

    standing()  # first of all, so that it loads the libraries while this process does
    from pipeline.commands.map_file import map_file as run

    return run(arguments)


def refresh(arguments: Arguments) -> int:
    return refreshed(arguments.folder, arguments.json, arguments.on, arguments.all)


def show(arguments: Arguments) -> int:
    from pipeline.database import newest
    from pipeline.shop import load

    load(arguments.folder)
    floor = _floor(arguments)
    if not newest(arguments.folder):
        code = refreshed(arguments.folder, as_json=False)
        if code != FINE:
            return code
    return _show(arguments.folder, arguments.port, floor)


def trace(arguments: Arguments) -> int:
    from pipeline.reports import trace as report

    with open_database(arguments.folder) as con:
        found = report.trace(con, arguments.piece)
        printed(found.as_data(), report.text(found, money_digits(arguments.folder), arguments.all), arguments.json)
    return FINE


def check(arguments: Arguments) -> int:
    from pipeline.reports import check as report
    from pipeline.reports.not_looked_at import not_looked_at

    with open_database(arguments.folder) as con:
        if arguments.set_aside:
            from pipeline.commands.set_aside import write

            return write(con, arguments.folder, arguments.set_aside)
        named = shlex.quote(str(arguments.folder))
        found = report.findings(con, named, digits := money_digits(arguments.folder))
        text = [*report.text(found, digits, named), *report.kept_out(con), *not_looked_at(con)]
    printed([asdict(finding) for finding in found], text, arguments.json)
    return FINDINGS if any(finding.severity == "error" for finding in found) else FINE


def answer(arguments: Arguments) -> int:
    from pipeline.commands import answers

    if arguments.answers:
        return answers.take(arguments.folder, arguments.answers, arguments.json)
    return answers.show(arguments.folder, arguments.json)


def close(arguments: Arguments) -> int:
    from pipeline.database.closed_months import close as freeze
    from pipeline.shop import load

    load(arguments.folder)
    path = freeze(arguments.folder, arguments.month)
    told = [
        f"{arguments.month:%B %Y} is closed: its figures, as last published, stand in {path}.",
        "  What would change them later counts as earlier months, in the first open month, from the next refresh on.",
    ]
    printed({"closed": str(path)}, told, arguments.json)
    return FINE


def report(arguments: Arguments) -> int:
    home, digits = arguments.folder / "reports", money_digits(arguments.folder)
    with open_database(arguments.folder) as con:
        # of the two only the one that is wanted: each has a library of its own that is slow to load
        if arguments.month:
            from pipeline.reports import month

            path, advice = month.write(con, home, arguments.month, digits), month.NO_ADVICE
            what = f"{arguments.month:%B %Y}"
        else:
            from pipeline.reports import yearend

            path, advice = yearend.write(con, home, arguments.year, digits), yearend.NO_ADVICE
            what = f"The year {arguments.year}"
    printed({"report": str(path)}, [f"{what} is in {path}.", f"  {advice}"], arguments.json)
    return FINE


def export(arguments: Arguments) -> int:
    from pipeline.reports import export as report

    folder = arguments.to or arguments.folder / "reports" / "export"
    with open_database(arguments.folder) as con:
        written = report.export(con, folder, arguments.format)
    told = [f"{len(written) - 1} tables are in {folder}, described in {report.DESCRIPTOR}."]
    printed({"files": [str(path) for path in written]}, told, arguments.json)
    return FINE


def backup(arguments: Arguments) -> int:
    from pipeline import backups
    from pipeline.shop import load

    to = arguments.to or Path(backups.named(arguments.folder, load(arguments.folder).now().date()))
    number = backups.back_up(arguments.folder, to)
    told = [f"{number:,} files of the shop are in {to}.", f"  A shop is made of it by: kerfledger restore {to} DIR"]
    printed({"backup": str(to), "files": number}, told, arguments.json)
    return FINE


def restore(arguments: Arguments) -> int:
    from pipeline import backups

    number = backups.restore(arguments.archive, arguments.folder)
    told = [f"{number:,} files are in {arguments.folder}.", f"  {backups.next_step(arguments.folder)}"]
    printed({"folder": str(arguments.folder), "files": number}, told, arguments.json)
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
    printed(found, report.text(found, arguments.sheet), arguments.json)
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
    printed({"database": str(path.resolve())}, [str(path.resolve())], arguments.json)
    return FINE


def _floor(arguments: Arguments) -> "ShopFloor | None":
    from pipeline.commands.shop_floor import chosen

    if arguments.shop_floor is None:
        if arguments.certificate or arguments.key:
            raise UserError("A certificate is for the shop floor.", mend="Add: --shop-floor ADDRESS")
        return None
    return chosen(arguments.shop_floor, arguments.certificate, arguments.key)


def _show(folder: Path, port: int, floor: "ShopFloor | None" = None) -> int:
    from pipeline.commands.serve import serve

    return serve(folder, lambda text: print(text, flush=True), port, floor)


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
    Command(
        "show",
        "the dashboard, on this machine only; the Log for phones too where you say so",
        "kerfledger show my-shop",
        add_show,
        show,
    ),
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
    Command(
        "backup",
        "all files of the shop in one archive; the database is made of them again",
        "kerfledger backup my-shop --to my-shop.zip",
        add_backup,
        backup,
    ),
    Command(
        "restore",
        "a new shop folder from such an archive",
        "kerfledger restore my-shop.zip my-shop-again",
        add_restore,
        restore,
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
