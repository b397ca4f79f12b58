"""A shop in whose every text stands what a page, a report or a spreadsheet could take for more than text."""

import csv
import io
import json
from pathlib import Path

from pipeline.records import RECORDS
from tests.fuzz import awkward

ELSEWHERE = "planted.example"
"""A machine that none of it may ask for anything."""

ALIVE = (
    "<img src=x onerror=window.ran=1><script>window.ran=2</script><style>*{display:none}</style>"
    f"<iframe src=http://{ELSEWHERE}></iframe>[a](javascript:window.ran=3) ![b](http://{ELSEWHERE}/b.png) "
    f"https://{ELSEWHERE} **bold** `code` $\\frac{{1}}{{2}}$ :material/delete: :smile: :red[c] # | {{7*7}} "
    "' \" ../../etc/passwd %s x'); drop table records.sales --"
)
"""HTML, Markdown, LaTeX, icons, colours, quotes, a path, SQL. As a tag has it: without what parts tags in a cell."""
FORMULAS = ("=HYPERLINK(1)", "+1+1", "-2+3", "@SUM(1)", "=cmd|' /C calc'!A1")
"""What a sheet would run: they begin a cell."""

KNOWN = ("category", "operation", "unit", "paid_currency", "action", "purpose", "returned_to", "kind", "cause")
"""Fields whose words decide what a row is: planted, they would leave the pages empty."""


def tag(text: str) -> str:
    """A tag with as much of it as a tag can hold."""
    return f"{text} {ALIVE[:32]} $x$ :smile: **b**".replace(";", "").replace("..", "")


def _planted(field: str, kind: str, text: str, turn: int) -> str:
    if field in KNOWN or kind not in ("text", "word", "tag", "tags") or field.endswith("unit"):
        return text
    if kind in ("tag", "tags"):
        return "; ".join(tag(each) for each in text.replace("..", ";").split(";") if each) if text else text
    if field == "species":
        return text if text != "maple" else f"{text} {ALIVE}"
    if field == "note":
        return f"{FORMULAS[turn % len(FORMULAS)]} {ALIVE}"
    # the same in all files, so that they still lead to each other
    return f"{text} {ALIVE}" if text else text


def _settings(seed: int) -> str:
    lines = []
    for line in awkward.settings_of(seed).splitlines():
        name, mark, text = line.partition(" = ")
        named = mark and name == "name" and text not in ('"market"', '"online"')
        lines.append(f"name = {json.dumps(f'{json.loads(text)} {ALIVE}')}" if named else line)
    return f"name = {json.dumps(f'Shop {ALIVE}')}\n" + "\n".join(lines)


def write(folder: Path, seed: int) -> Path:
    """The shop of a seed, planted, without a database."""
    (folder / "inbox").mkdir(parents=True)
    (folder / "shop.toml").write_text(_settings(seed), encoding="utf-8")
    for record, lines in awkward.shop(seed).items():
        rows = list(csv.DictReader(io.StringIO("\n".join(lines))))
        out = io.StringIO()
        kinds = {field.name: field.kind for field in RECORDS[record]}
        writer = csv.DictWriter(out, [*kinds, f"{ALIVE}, of a column"], lineterminator="\n")
        writer.writeheader()
        for turn, row in enumerate(rows):
            cells = {name: _planted(name, kind, row.get(name) or "", turn) for name, kind in kinds.items()}
            # a row of each file is set aside with its text
            cells |= {"date": f"soon {ALIVE}"} if turn == 3 and "date" in kinds else {}
            writer.writerow(cells | {f"{ALIVE}, of a column": ALIVE})
        (folder / "mappings").mkdir(exist_ok=True)
        columns = "\n".join(f'{name} = "{name}"' for name in kinds)
        mapped = f'files = "{record} *"\nrecord = "{record}"\n[columns]\n{columns}\n'
        (folder / "mappings" / f"{record}.toml").write_text(mapped, encoding="utf-8")
        name = f"{record} {ALIVE[:32]} **b** $x$ :smile:.csv"
        (folder / "inbox" / name).write_text(out.getvalue(), encoding="utf-8")
    strange = f"{ALIVE}|1,{ALIVE}|2\n".replace(",", ";").replace("|", ",") * 3
    (folder / "inbox" / "strange.csv").write_text(strange, encoding="utf-8")
    return folder
