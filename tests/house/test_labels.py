"""Labels, hints and alerts of the dashboard read Markdown: what stands in them is ours, or goes through `verbatim`."""

import ast
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from tests.house.sources import files

FIRST = (
    *("button", "download_button", "form_submit_button", "link_button", "file_uploader", "expander", "popover"),
    *("selectbox", "multiselect", "pills", "segmented_control", "radio", "checkbox", "toggle", "slider", "dialog"),
    *("text_input", "text_area", "number_input", "date_input", "time_input", "tabs", "metric", "status", "spinner"),
    *("error", "success", "warning", "info", "toast", "markdown", "write", "caption", "title", "header", "subheader"),
)
LABELS = dict.fromkeys(FIRST, 0) | {"progress": 1}
"""What of Streamlit reads Markdown, and at which place."""

ROWS = ("pills", "segmented_control", "radio")
"""Those whose rows read Markdown too."""

WORDS = ("label", "help", "text", "body")
"""And by which names."""

ESCAPES = ("verbatim",)
OF_TEXT = ("join", "items", "keys", "values", "capitalize", "replace", "rstrip")
PLAIN = ("len", "int", "round", "list", "dict", "sorted", "tuple", "enumerate", "zip", "max", "min")
"""Calls that make no letters of their own."""

OURS = {
    "field.name": "a record type's own text",
    "field.meaning": "a record type's own text",
    "words.count": "a number and a word of ours",
    "log_fields.label": "a record type's own text",
    "log_fields.meaning": "a record type's own text",
    "KINDS": "our own names of the records",
    "CATEGORIES": "a record type's own words",
    "_title": "escapes what it names",
    "_help": "a record type's own text, and figures",
}
"""What holds letters of ours alone, though no test of a single expression sees it."""


Names = frozenset[str]


@dataclass
class House:
    """The dashboard's functions by module and name, and which of their arguments end up in a label."""

    functions: dict[tuple[str, str], ast.FunctionDef] = field(default_factory=dict)
    takers: dict[tuple[str, str], set[str]] = field(default_factory=dict)

    def taker(self, module: str, call: ast.expr) -> tuple[str, str] | None:
        """The function that is called, by module and name, if it hands an argument on to a label."""
        match call:
            case ast.Name(id=name) if (module, name) in self.functions:
                key = (module, name)
            case ast.Name(id=name):
                key = next((each for each in self.takers if each[1] == name), ("", name))
            case ast.Attribute(value=ast.Name(id=module), attr=name):
                key = (module, name)
            case _:
                return None
        return key if key in self.takers else None


def names(target: ast.expr) -> Iterator[str]:
    yield from (node.id for node in ast.walk(target) if isinstance(node, ast.Name))


def bound(scope: ast.AST, name: str) -> list[ast.expr]:
    """All that a name is set to within a function or module; what it runs over, where it is a loop's."""
    found: list[ast.expr] = []
    for node in ast.walk(scope):
        match node:
            case ast.Assign(targets=targets, value=value) if any(name in names(t) for t in targets):
                found.append(value)
            case ast.AnnAssign(target=target, value=value) | ast.AugAssign(target=target, value=value):
                if value is not None and name in names(target):
                    found.append(value)
            case ast.NamedExpr(target=target, value=value) if name in names(target):
                found.append(value)
            case ast.For(target=target, iter=value) | ast.comprehension(target=target, iter=value):
                if name in names(target):
                    found.append(value)
    return found


def safe(
    house: House, expr: ast.expr, scope: ast.FunctionDef | None, module: ast.Module, seen: Names = frozenset()
) -> bool:
    """Whether all letters of an expression are ours or escaped. A parameter is left to those who call the function."""

    def fine(*parts: ast.expr | None) -> bool:
        return all(part is None or safe(house, part, scope, module, seen) for part in parts)

    if ast.unparse(expr.func if isinstance(expr, ast.Call) else expr) in OURS:
        return True
    match expr:
        case ast.Constant() | ast.Compare() | ast.Lambda():
            return True
        case ast.JoinedStr(values=values):
            return fine(*values)
        case ast.FormattedValue(value=value, format_spec=spec):
            # with a shape for numbers it holds no letters
            return spec is not None or fine(value)
        case ast.IfExp(body=one, orelse=other):
            return fine(one, other)
        case ast.BoolOp(values=values):
            return fine(*values)
        case ast.BinOp(left=one, right=other):
            return fine(one, other)
        case ast.Subscript(value=value) | ast.Starred(value=value):
            return fine(value)
        case ast.Dict(keys=keys, values=values):
            return fine(*keys, *values)
        case ast.List(elts=elts) | ast.Tuple(elts=elts) | ast.Set(elts=elts):
            return fine(*elts)
        case ast.GeneratorExp(elt=elt) | ast.ListComp(elt=elt):
            return fine(elt)
        case ast.Call(func=ast.Name(id=name) | ast.Attribute(attr=name), args=args) if name in ESCAPES:
            return bool(args)
        case ast.Call(func=ast.Name(id=name), args=args) if name in PLAIN:
            return fine(*args)
        case ast.Call(func=ast.Attribute(value=value, attr=name), args=args) if name in OF_TEXT:
            return fine(value, *args)
        case ast.Name(id=name):
            return name in seen or known(house, name, scope, module, seen | {name})
    return False


def known(house: House, name: str, scope: ast.FunctionDef | None, module: ast.Module, seen: Names) -> bool:
    if scope is None:
        top = [node for node in module.body if isinstance(node, ast.Assign | ast.AnnAssign)]
        values = [value for node in top for value in bound(node, name)]
        return bool(values) and all(safe(house, value, None, module, seen) for value in values)
    values = bound(scope, name)
    parameter = name in {each.arg for each in (*scope.args.args, *scope.args.kwonlyargs)}
    if parameter:
        house.takers.setdefault((module.name, scope.name), set()).add(name)
    if not values and not parameter:
        return known(house, name, None, module, seen)
    return all(safe(house, value, scope, module, seen) for value in values)


def in_labels(house: House, module: str, call: ast.Call) -> Iterator[ast.expr]:
    """The arguments of a call that end up in a label."""
    taker = house.taker(module, call.func)
    match call.func:
        case ast.Attribute(value=ast.Name(id="st" | "where"), attr=name) if name in LABELS:
            yield from call.args[LABELS[name] : LABELS[name] + 1 + (name in ROWS)]
            yield from (each.value for each in call.keywords if each.arg in WORDS)
        case _ if taker:
            places = {each.arg: at for at, each in enumerate(house.functions[taker].args.args)}
            for taken in house.takers[taker]:
                at = places.get(taken)
                if at is not None and at < len(call.args):
                    yield call.args[at]
                yield from (each.value for each in call.keywords if each.arg == taken)
        case _:
            yield from (each.value for each in call.keywords if each.arg == "help")


def hints(tree: ast.AST) -> Iterator[ast.expr]:
    """What is handed on under the name of a hint."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Dict):
            for key, value in zip(node.keys, node.values, strict=True):
                if isinstance(key, ast.Constant) and key.value == "help":
                    yield value


def scopes(module: ast.Module) -> Iterator[tuple[ast.FunctionDef | None, ast.AST]]:
    """Each node with the outermost function that it stands in."""
    for top in module.body:
        functions = [node for node in ast.walk(top) if isinstance(node, ast.FunctionDef)]
        outer = functions[0] if functions and functions[0] is top else None
        if isinstance(top, ast.ClassDef):
            for function in functions:
                yield from ((function, node) for node in ast.walk(function))
        else:
            yield from ((outer, node) for node in ast.walk(top))


def told(trees: Mapping[str, ast.Module]) -> list[str]:
    """The labels that hold letters of somebody else's."""
    house = House()
    for path, tree in trees.items():
        tree.name = Path(path).stem
        for node in ast.walk(tree):
            if isinstance(node, ast.FunctionDef):
                house.functions[tree.name, node.name] = node
    found: set[str] = set()
    for _ in range(6):  # a label is handed down through so many functions at most
        before = {name: set(taken) for name, taken in house.takers.items()}
        for path, tree in trees.items():
            for scope, node in scopes(tree):
                parts = [*in_labels(house, Path(path).stem, node)] if isinstance(node, ast.Call) else []
                for part in (*parts, *(hints(node) if isinstance(node, ast.Dict) else ())):
                    if not safe(house, part, scope, tree):
                        found.add(f"{path}: {ast.unparse(part)}")
        if house.takers == before:
            break
    return sorted(found)


def of(text: str) -> list[str]:
    return told({"a.py": ast.parse(text)})


def test_a_label_of_somebody_elses_letters_is_found() -> None:
    assert of("def f(name):\n    st.button(verbatim(name))") == []
    assert of("def f(rows):\n    st.button(rows[0].name)") == ["a.py: rows[0].name"]
    assert of("def f(rows):\n    label = f'Take {rows.tag}'\n    st.button(label)") == ["a.py: label"]
    assert of("def f(rows):\n    st.expander(f'{rows.count:,} rows')") == []
    assert of("def show(label):\n    st.error(label)\ndef g(e):\n    show(e.what)") == ["a.py: e.what"]
    assert of("def show(label):\n    st.error(label)\ndef g(e):\n    show(verbatim(e.what))") == []
    assert of("def g(e):\n    named = {'help': e.meaning}") == ["a.py: e.meaning"]


def test_no_label_holds_letters_that_markdown_would_read() -> None:
    trees = {str(path): tree for path, tree in files().items() if path.parts[0] == "dashboard"}
    assert told(trees) == []


def test_a_form_has_something_with_a_key_around_it() -> None:
    """Without, what comes above it on the page draws it anew, and takes the keys out of it and what is typed away."""
    makers = {
        str(path)
        for path, tree in files().items()
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and ast.unparse(node) == "st.form"
    }
    assert makers == {"dashboard/fields.py"}
