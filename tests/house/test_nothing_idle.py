"""Nothing stands idle: no function that only its test calls, no chart that nobody draws, no estimate in no list."""

import ast

from pipeline import estimates
from tests.house import sources

CALLED_BY_NAME = {
    ("pipeline.processes.workers", "serve"): "the other process starts with it",
    ("pipeline.database.run", "run_one"): "runs a model alone, for whoever works on it",
}
"""What nothing in the package calls, and why it is there all the same."""


def idle(known: dict[str, ast.Module]) -> set[tuple[str, str]]:
    """Functions, classes and constants at the top of a module that nothing in the package uses."""
    used = {pair for name, tree in known.items() for pair in sources.used_by(name, tree, known)}
    return {
        (module, name)
        for module, tree in known.items()
        for name, definition in sources.definitions(tree)
        if (module, name) not in used and not sources.used_at_home(name, definition, tree)
    }


def idle_methods(known: dict[str, ast.Module]) -> list[str]:
    """Methods whose name no module ever asks anything for."""
    asked = {node.attr for tree in known.values() for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    return sorted(
        f"{module}.{owner}.{name}"
        for module, tree in known.items()
        for owner, name in sources.methods(tree)
        if name not in asked
    )


def listed(module: str, name: str) -> bool:
    """Names that are read by a list or by the language, and not by a statement."""
    return name == "__all__" or (name == "NODES" and module.startswith("pipeline.estimates."))


def test_what_only_its_test_calls_goes() -> None:
    found = {(module, name) for module, name in idle(sources.modules()) if not listed(module, name)}
    assert sorted(found - CALLED_BY_NAME.keys()) == [], "nothing but a test uses these"
    assert sorted(CALLED_BY_NAME.keys() - found) == [], "these need no excuse"
    assert idle_methods(sources.modules()) == []


def test_what_nothing_uses_is_seen() -> None:
    known = {
        "pipeline.a": ast.parse("def once(): return once()\ndef kept(): ...\nLEFT = 1\nclass C:\n  def odd(self): ..."),
        "pipeline.b": ast.parse("from pipeline import a\nfrom pipeline.a import C\na.kept()\nC()"),
    }
    assert idle(known) == {("pipeline.a", "once"), ("pipeline.a", "LEFT")}
    assert idle_methods(known) == ["pipeline.a.C.odd"]


def test_every_chart_is_drawn_by_its_test() -> None:
    drawn = (sources.ROOT / "tests" / "dashboard" / "test_charts.py").read_text(encoding="utf-8")
    lacking = [
        f"{path.stem}.{definition.name}"
        for path in sorted((sources.ROOT / "dashboard" / "charts").glob("*.py"))
        for definition in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(definition, ast.FunctionDef)
        and any(isinstance(node, ast.Name) and node.id == "dress" for node in ast.walk(definition))
        and f"{path.stem}.{definition.name}(" not in drawn
    ]
    assert lacking == [], "tests/dashboard/test_charts.py: these charts"


def estimates_that_make_tables() -> set[str]:
    """Modules of the estimates that hold nodes."""
    return {
        module.removeprefix("pipeline.estimates.")
        for module, tree in sources.modules().items()
        if module.startswith("pipeline.estimates.") and "NODES" in dict(sources.definitions(tree))
    }


def test_every_estimate_is_in_the_list() -> None:
    assert len(estimates_that_make_tables()) > 5
    assert sorted(estimates_that_make_tables() ^ set(estimates.MODULES)) == [], (
        "MODULES of pipeline/estimates names each"
    )
    assert len(estimates.nodes()) >= len(estimates.MODULES)


def charts() -> set[tuple[str, str]]:
    """Public functions that give a chart; one that other charts are made of begins with `_`."""
    return {
        (module, name)
        for module, tree in sources.modules().items()
        if module.startswith("dashboard.charts.")
        for name, node in sources.definitions(tree)
        if isinstance(node, ast.FunctionDef) and not name.startswith("_")
        if node.returns and ast.unparse(node.returns).startswith("alt.")
    }


def test_every_chart_is_drawn_on_a_page() -> None:
    known = sources.modules()
    pages = {name: tree for name, tree in known.items() if name.startswith(("dashboard.views.", "dashboard.sections."))}
    drawn = {pair for name, tree in pages.items() for pair in sources.used_by(name, tree, known)}
    assert len(charts()) > 10
    assert sorted(charts() - drawn) == []
