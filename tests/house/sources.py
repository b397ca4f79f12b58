"""The house's own Python files as trees: what each defines, what it imports, and what of it anybody uses."""

import ast
from collections.abc import Container, Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[2]
FOLDERS = ("pipeline", "dashboard", "sample_data")

Definition = ast.FunctionDef | ast.ClassDef | ast.Assign | ast.AnnAssign


@cache
def files() -> dict[Path, ast.Module]:
    """Each module's tree by its path below the root."""
    paths = [path for folder in FOLDERS for path in sorted((ROOT / folder).rglob("*.py"))]
    return {path.relative_to(ROOT): ast.parse(path.read_text(encoding="utf-8")) for path in paths}


def modules() -> dict[str, ast.Module]:
    """Each module's tree by its dotted name."""
    return {".".join(path.with_suffix("").parts).removesuffix(".__init__"): tree for path, tree in files().items()}


def definitions(tree: ast.Module) -> Iterator[tuple[str, Definition]]:
    """The functions, classes and constants at the top of a module."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node.name, node
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            yield from ((target.id, node) for target in targets if isinstance(target, ast.Name))


def methods(tree: ast.Module) -> Iterator[tuple[str, str]]:
    """Class and method, without those that Python itself calls."""
    for node in ast.walk(tree):
        if isinstance(node, ast.ClassDef):
            yield from (
                (node.name, part.name)
                for part in node.body
                if isinstance(part, ast.FunctionDef) and not part.name.startswith("__")
            )


def used_by(own: str, tree: ast.Module, known: Container[str]) -> Iterator[tuple[str, str]]:
    """What a module uses of the others that are known, as (module, name)."""
    modules_by_alias: dict[str, set[str]] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                full = f"{node.module}.{alias.name}"
                if full in known:
                    modules_by_alias.setdefault(alias.asname or alias.name, set()).add(full)
                yield node.module, alias.name
        elif isinstance(node, ast.Import):
            for alias in node.names:
                modules_by_alias.setdefault(alias.asname or alias.name, set()).add(alias.name)
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute):
            named = modules_by_alias.get(ast.unparse(node.value), ())
            yield from ((module, node.attr) for module in named if module in known and module != own)


def used_at_home(name: str, definition: Definition, tree: ast.Module) -> bool:
    """Whether the module itself uses what it defines, outside of the definition."""
    inside = {id(node) for node in ast.walk(definition)}
    return any(
        isinstance(node, ast.Name) and node.id == name and isinstance(node.ctx, ast.Load) and id(node) not in inside
        for node in ast.walk(tree)
    )
