"""The guide tells the truth: its list of modules is current, its tables can be read, its words are the house's."""

import re
from pathlib import Path

from guide import GUIDE, ROOT, listed, modules, without_list

WIDEST_CELL = 200
SOURCES = ("pipeline", "dashboard", "sql")


def test_every_module_is_listed_by_its_own_first_line() -> None:
    assert GUIDE.read_text(encoding="utf-8") == without_list() + listed(), "run: python tests/guide.py"


def test_every_module_says_what_it_is() -> None:
    told = listed()
    silent = [path for path in modules() if path.name != "__init__.py" and f"`{path.name}` " not in told]
    assert silent == []


def test_no_cell_is_wider_than_one_reads() -> None:
    rows = [line.strip("|") for line in without_list().splitlines() if line.startswith("|")]
    assert [cell for row in rows for cell in row.split("|") if len(cell.strip()) > WIDEST_CELL] == []


def test_every_file_that_it_names_is_there() -> None:
    named = set(re.findall(r"`((?:[\w.]+/)+[\w.]+\.(?:py|sql|csv|toml|js))`", without_list()))
    found = {name for name in named for base in (ROOT, ROOT / "pipeline") if (base / name).is_file()}
    assert len(named) > 10
    assert sorted(named - found) == []


def test_every_room_is_in_the_table() -> None:
    rooms = [p.name for p in (ROOT / "pipeline").iterdir() if p.is_dir() and any(p.glob("*.py"))]
    text = without_list()
    assert [room for room in rooms if f"| `{room}/` |" not in text] == []


def test_the_words_of_the_house_are_used() -> None:
    table = without_list().partition("## Words of the house")[2].partition("\n## ")[0]
    words = re.findall(r"(?m)^\| ([a-z ]+) \|", table)[1:]
    assert {"trace", "place", "layer", "twin", "set aside", "mend", "draw", "exit"} <= set(words)
    text = "".join(_text(path) for folder in SOURCES for path in (ROOT / folder).rglob("*") if path.is_file())
    assert [word for word in words if not re.search(rf"\b{word.replace(' ', '[ _-]')}", text, re.I)] == []


def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8") if path.suffix in (".py", ".sql", ".toml") else ""
