"""The list of modules at the end of DEVELOPERS.md, made of their own first lines.

`python tests/guide.py` writes it anew.
"""

import ast
from pathlib import Path

ROOT = Path(__file__).parents[1]
GUIDE = ROOT / "DEVELOPERS.md"
BEGIN = "## Every module"


def modules() -> list[Path]:
    """Every module of the program, by path."""
    return [
        path for folder in ("pipeline", "dashboard", "sample_data") for path in sorted((ROOT / folder).rglob("*.py"))
    ]


def listed() -> str:
    """The list: a line a module with the first sentence of its docstring, under its folder."""
    lines = [BEGIN, "", "Made by `uv run python tests/guide.py` of the modules' own first lines."]
    folder = None
    for path in modules():
        said = (ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or "").partition("\n")[0]
        if not said:
            continue
        if path.parent != folder:
            folder = path.parent
            lines += ["", f"**`{folder.relative_to(ROOT).as_posix()}/`**", ""]
        lines.append(f"- `{path.name}` {said}")
    return "\n".join(lines) + "\n"


def without_list() -> str:
    """The guide as written by hand."""
    return GUIDE.read_text(encoding="utf-8").partition(BEGIN)[0]


if __name__ == "__main__":
    GUIDE.write_text(without_list() + listed(), encoding="utf-8")
