"""The libraries that a maker installs: their tested versions, held in `pyproject.toml` and `.ci/constraints.txt`, and
their licences, listed in DEVELOPERS.md; all from what is installed here.

`python tests/libraries.py` writes the three anew. Run it after `uv sync --upgrade` without the constraints.
"""

import re
import tomllib
from dataclasses import dataclass
from importlib.metadata import Distribution, distribution

import tomlkit
from guide import GUIDE, ROOT
from packaging.requirements import Requirement

PROJECT, CONSTRAINTS = ROOT / "pyproject.toml", ROOT / ".ci" / "constraints.txt"
OURS = "kerfledger"
BEGIN, END = "| library | version | licence | MB | who needs it |", "\n\n"


@dataclass(frozen=True)
class Library:
    """An installed library: its tested version, its licence as its metadata tells it, its size in MB, who needs it."""

    name: str
    version: str
    licence: str
    size_mb: float
    needed_by: tuple[str, ...]


def installed() -> list[Library]:
    """All that running the tool needs, what comes along with a library too, by name."""
    needed: dict[str, set[str]] = {}
    waiting = [OURS]
    while waiting:
        name = waiting.pop()
        for text in distribution(name).requires or []:
            requirement = Requirement(text)
            if requirement.marker and not requirement.marker.evaluate({"extra": ""}):
                continue
            other = _plain(requirement.name)
            if other not in needed:
                waiting.append(other)
            needed.setdefault(other, set()).add(name)
    return [_library(distribution(name), name, needed[name]) for name in sorted(needed)]


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def _library(held: Distribution, name: str, needed_by: set[str]) -> Library:
    paths = [held.locate_file(file) for file in held.files or []]
    size = sum(path.stat().st_size for path in paths if path.is_file())  # type: ignore[attr-defined]
    by = () if OURS in needed_by else tuple(sorted(needed_by))
    return Library(name, held.version, _licence(held), size / 2**20, by)


def _licence(held: Distribution) -> str:
    """As its metadata tells it: the expression, else the classifiers, else the first line of the text."""
    told = held.metadata.get_all("Classifier") or []
    classes = [line.rpartition(" :: ")[2] for line in told if line.startswith("License :: ")]
    text = (held.metadata.get("License") or "").strip().split("\n")[0]
    return held.metadata.get("License-Expression") or ", ".join(sorted(classes)) or text or "none told"


def pins() -> list[str]:
    """The constraints that `pyproject.toml` holds for uv."""
    with PROJECT.open("rb") as file:
        return list(tomllib.load(file)["tool"]["uv"]["constraint-dependencies"])


def rows() -> list[str]:
    """The table of DEVELOPERS.md, a line a library."""
    found = [
        f"| {each.name} | {each.version} | {each.licence} | {each.size_mb:.1f} | {', '.join(each.needed_by) or 'we'} |"
        for each in installed()
    ]
    return [BEGIN, "|---|---|---|---:|---|", *found]


def listed() -> list[str]:
    """The table as it stands in DEVELOPERS.md."""
    text = GUIDE.read_text(encoding="utf-8")
    return (BEGIN + text.partition(BEGIN)[2].partition(END)[0]).split("\n")


def main() -> None:
    held = [f"{each.name}=={each.version}" for each in installed()]
    project = tomlkit.parse(PROJECT.read_text(encoding="utf-8"))
    lines = tomlkit.array()
    lines.extend(held)
    project["tool"].setdefault("uv", tomlkit.table())["constraint-dependencies"] = lines.multiline(True)  # type: ignore
    PROJECT.write_text(tomlkit.dumps(project), encoding="utf-8")
    CONSTRAINTS.write_text("\n".join(held) + "\n", encoding="utf-8")
    text = GUIDE.read_text(encoding="utf-8")
    before, _, after = text.partition(BEGIN)
    GUIDE.write_text(before + "\n".join(rows()) + END + after.partition(END)[2], encoding="utf-8")


if __name__ == "__main__":
    main()
