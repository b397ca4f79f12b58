"""What each command takes: arguments by command, and the texts that only one shape fits."""

import argparse
import errno
import os
import re
from datetime import date, datetime
from pathlib import Path

DEMO = "demo-shop"
DEMO_ENDS = date(2026, 10, 31)
"""The last day of the demo's records: its figures are the same by any clock."""


def add_shop(parser: argparse.ArgumentParser, figures: bool = True) -> None:
    parser.add_argument("folder", type=_path, metavar="DIR", help="the shop folder")
    if figures:
        parser.add_argument("--json", action="store_true", help="print the figures as JSON")


def add_refresh(parser: argparse.ArgumentParser) -> None:
    add_shop(parser)
    help_ = "the day that it is for (default: today): what a calendar holds after it is planned, and in no figure"
    parser.add_argument("--on", type=_day, metavar="DATE", help=help_)
    help_ = "work everything out anew, also what has not changed since the last refresh; the figures are the same"
    parser.add_argument("--all", action="store_true", help=help_)


def add_port(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--port", type=_port, default=8501, help="port to serve on, if it is free (default 8501)")


def add_demo(parser: argparse.ArgumentParser) -> None:
    help_ = f"where to make the demo shop (default {DEMO})"
    parser.add_argument("folder", type=_path, metavar="DIR", nargs="?", default=Path(DEMO), help=help_)
    parser.set_defaults(on=DEMO_ENDS)
    parser.add_argument("--no-show", action="store_true", help="stop after printing the month")
    add_port(parser)


def add_new(parser: argparse.ArgumentParser) -> None:
    add_shop(parser, figures=False)
    help_ = "the day the records begin (default: the first day of this year)"
    parser.add_argument("--start", type=date.fromisoformat, metavar="DATE", help=help_)


def add_map(parser: argparse.ArgumentParser) -> None:
    add_shop(parser)
    parser.add_argument("file", type=_path, metavar="FILE", help="a file in the shop's inbox")
    parser.add_argument("--as", dest="record", metavar="RECORD", help="the record that it holds, such as sales")
    parser.add_argument("--sheet", metavar="NAME", help="the sheet of a workbook that is meant; without it all are")
    help_ = "which column a field is, or the text that it has in all rows: --set channel=market (as often as needed)"
    parser.add_argument("--set", dest="settled", action="append", default=[], metavar="FIELD=…", help=help_)
    parser.add_argument("--save", action="store_true", help="save the mapping in mappings/, to be edited there")


def add_check(parser: argparse.ArgumentParser) -> None:
    add_shop(parser)
    help_ = "write the rows set aside to this CSV, one for each record, to be mended and put into mends/"
    parser.add_argument("--set-aside", type=_path, metavar="FILE.csv", help=help_)


def add_answer(parser: argparse.ArgumentParser) -> None:
    add_shop(parser)
    help_ = "the number of a question and that of your choice, as often as needed; a refresh follows"
    parser.add_argument("answers", type=_answer, metavar="N=CHOICE", nargs="*", help=help_)


def add_show(parser: argparse.ArgumentParser) -> None:
    add_shop(parser, figures=False)
    add_port(parser)
    add_floor(parser)


def add_floor(parser: argparse.ArgumentParser) -> None:
    help_ = "also serve the Log to paired phones, at this address of this machine (without one, they are listed)"
    parser.add_argument("--shop-floor", metavar="ADDRESS", nargs="?", const="", help=help_)
    help_ = "your own certificate for that address (PEM) instead of the one that is made, with --key"
    parser.add_argument("--certificate", type=_path, metavar="FILE", help=help_)
    parser.add_argument("--key", type=_path, metavar="FILE", help="the key of your own certificate (PEM)")


def add_trace(parser: argparse.ArgumentParser) -> None:
    add_shop(parser)
    parser.add_argument("piece", metavar="PIECE", help="tag of the piece, such as T-031")
    parser.add_argument("--all", action="store_true", help="show the records behind each line too")


def add_peek(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("files", type=_path, metavar="FILE", nargs="+", help="a file of any kind that can be read")
    shape = parser.add_mutually_exclusive_group()
    shape.add_argument("--json", action="store_true", help="print what was found as JSON")
    shape.add_argument("--csv", action="store_true", help="print the cells as plain UTF-8 CSV, their text unchanged")


def add_close(parser: argparse.ArgumentParser) -> None:
    add_shop(parser)
    parser.add_argument("month", type=_month, metavar="MONTH", help="the month, such as 2026-05")


def add_report(parser: argparse.ArgumentParser) -> None:
    add_shop(parser)
    which = parser.add_mutually_exclusive_group(required=True)
    which.add_argument(
        "--month", type=_month, help="this month (2026-05) as one page of HTML that prints on two sheets"
    )
    which.add_argument("--year", type=_year, help="the year-end workbook of this year (.xlsx)")


def add_export(parser: argparse.ArgumentParser) -> None:
    add_shop(parser)
    parser.add_argument("--to", type=_path, metavar="DIR", help="where to write (default: reports/export in the shop)")
    kinds = ("parquet", "csv")
    parser.add_argument("--format", choices=kinds, default=kinds[0], help="kind of file (default parquet)")


def add_backup(parser: argparse.ArgumentParser) -> None:
    add_shop(parser)
    help_ = "the file to write (default: the shop's name and the day, in the folder you are in)"
    parser.add_argument("--to", type=_path, metavar="FILE.zip", help=help_)


def add_restore(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("archive", type=_path, metavar="FILE.zip", help="a file that backup wrote")
    parser.add_argument("folder", type=_path, metavar="DIR", help="the shop folder to make: new, or empty")
    parser.add_argument("--json", action="store_true", help="print what was done as JSON")


def add_quote(parser: argparse.ArgumentParser) -> None:
    add_shop(parser)
    say = parser.add_argument
    say("--product", required=True, help="what kind of piece it is, as in your records")
    say("--species", default="", help="wood species")
    say("--finish", default="", help="finish, or resin work")
    for size in ("length", "width", "thickness", "diameter"):
        say(
            f"--{size}",
            default="",
            metavar="SIZE",
            help=f"{size}, such as 16in or 40cm; bare numbers in the shop's unit",
        )
    say("--quantity", type=int, default=1, metavar="N", help="how many alike are made together (default 1)")
    say(
        "--carving-minutes",
        type=float,
        default=0.0,
        metavar="MIN",
        help="carving beyond what such a piece usually takes",
    )
    say("--setup-minutes", type=float, default=0.0, metavar="MIN", help="bench time that the whole run takes once")
    say("--resin-grams", type=float, default=0.0, metavar="G", help="resin in the piece beyond what is usual")
    say("--resin", default="", metavar="ITEM", help="which resin (default: the one you pour most)")
    say("--hardware", default="", metavar="AMOUNT", help="hardware beyond what is usual, in money")
    wanted = parser.add_mutually_exclusive_group()
    wanted.add_argument("--margin", type=float, help="profit as a share of the price, such as 0.4 (default 0.3)")
    wanted.add_argument("--pay", default="", metavar="AMOUNT", help="what an hour of your own is to pay, instead")
    say("--channel", default="", help="where it is to be sold (default: where such pieces mostly are)")
    say(
        "--save",
        nargs="?",
        const="",
        metavar="TAG",
        help="save the quote in quotes/, under this name or the next number",
    )
    say("--sheet", type=_path, metavar="FILE.html", help="write the client's page: price and terms, no costs")


def _month(text: str) -> date:
    try:
        return datetime.strptime(text, "%Y-%m").date()
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no month: write it as 2026-05") from None


def _answer(text: str) -> tuple[str, int | str]:
    said = re.fullmatch(r"([0-9a-f]{1,10})=([^=\n]{1,60})", text)
    if not said:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is no answer: write 1=2 for question 1, choice 2")
    chosen = said[2].strip()
    return said[1], int(chosen) if re.fullmatch(r"[0-9]{1,4}", chosen) else chosen


def _path(text: str) -> Path:
    """A name that a file or a folder can have here, there or not."""
    try:
        os.lstat(text)
    except (OSError, ValueError) as error:
        if isinstance(error, ValueError) or error.errno in (errno.ENAMETOOLONG, errno.EINVAL, errno.ELOOP):
            shown = text[:40].encode("ascii", "backslashreplace").decode()
            raise argparse.ArgumentTypeError(f"nothing can be called {shown!r}{' …' * (len(text) > 40)} here") from None
    return Path(text)


def _port(text: str) -> int:
    if not re.fullmatch(r"[0-9]{1,5}", text) or not 0 < int(text) < 2**16:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is no port: take a number from 1024 to 65535")
    return int(text)


def _day(text: str) -> date:
    try:
        return datetime.strptime(text, "%Y-%m-%d").date()
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no day: write it as 2026-10-31") from None


def _year(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 1900 <= int(text) <= 9998):
        raise argparse.ArgumentTypeError(f"{text!r} is no year: write it as 2026")
    return int(text)
