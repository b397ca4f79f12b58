"""The list of modules in DEVELOPERS.md, of their first lines; `uv run python -m tests.house.guide` writes it anew."""

import ast
import re
from pathlib import Path

from tests.house import sources

GUIDE = sources.ROOT / "DEVELOPERS.md"
HEADING = "## Every module"
LEAD = "Told by the first line of each. `uv run python -m tests.house.guide` writes this list anew; a test compares it."


def listing() -> str:
    """The section of the guide: a table a folder, a row a module."""
    folders: dict[str, list[str]] = {}
    for path, tree in sorted(sources.files().items()):
        if text := _first_line(tree):
            folders.setdefault(path.parent.as_posix(), []).append(f"| `{path.name}` | {text} |")
    tables = [f"| `{folder}/` | holds |\n|---|---|\n" + "\n".join(rows) for folder, rows in folders.items()]
    return "\n\n".join((HEADING, LEAD, *tables)) + "\n"


def _first_line(tree: ast.Module) -> str:
    words = re.split(r"\n\s*\n", ast.get_docstring(tree) or "")[0]
    sentence = re.split(r"(?<=\.)\s+(?=[A-Z`])", " ".join(words.split()))[0]
    return sentence.replace("|", "\\|")


def section(text: str) -> str:
    """The part of a guide that lists the modules."""
    return text[text.index(HEADING) :] if HEADING in text else ""


def renewed(text: str) -> str:
    """A guide with the list as it should be, at its end."""
    return text.removesuffix(section(text)).rstrip("\n") + "\n\n" + listing()


if __name__ == "__main__":
    Path(GUIDE).write_text(renewed(GUIDE.read_text(encoding="utf-8")), encoding="utf-8")
