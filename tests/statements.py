"""Which SQL statements of a module are made of constants alone, read from its text: see `faults`.

A statement may be a literal, a constant of a module (in capitals), what a constant table gives for a name, and these
put together. What a function is given is none of that: the function then is itself one that takes a statement, and all
who call it are looked at in the same way.
"""

import ast
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

RUN = ("execute", "executemany", "sql", "query", "from_query", "extract_statements")
"""Methods that run a statement, or take one apart: their first argument."""

RELATION = ("project", "aggregate", "order")
"""Methods of a relation that take a piece of SQL: it is a literal."""

TEXT_OF_TEXT = ("join", "format", "get", "items", "values", "keys", "strip", "removesuffix", "removeprefix", "replace")
"""Methods that give constants for constants."""


PUT_IN = ("append", "extend", "insert", "update", "setdefault", "add")
"""Methods that put something into a list, a table or a set."""


@dataclass
class Scope:
    """A function (or a module): what its names are set to, and what it is given."""

    given: list[str]
    set_to: dict[str, list[ast.expr]] = field(default_factory=dict)
    above: "Scope | None" = None
    of: ast.AST | None = None


Runner = tuple[str, str]
"""A function that takes a statement: its module (empty for a method, which is known by its name alone) and name."""

Runners = dict[Runner, tuple[int, str]]
"""Which of its arguments the statement is, by place and by name."""


def faults(modules: Iterable[tuple[str, str]], trusted: Iterable[Runner] = ()) -> Iterator[Runner]:
    """Where a statement holds more than constants, as (module, function): of modules as (`pipeline.refresh`, text).

    `trusted`: functions that are not looked into, each of which makes its statements of what is no text from outside.
    """
    calls = [_calls(name, text) for name, text in modules]
    runs: Runners = {("", name): (0, "query") for name in RUN}
    while True:  # until no further function is found that hands a statement on
        found: list[Runner] = []
        called: set[Runner] = set()
        before = len(runs)
        for module in calls:
            found += _of_module(module, runs, called, set(trusted))
        if len(runs) == before:
            yield from found
            # who calls it is not to be seen
            yield from (run for run in runs if run not in called and run[1] not in RUN)
            return


@dataclass(frozen=True)
class Calls:
    """The calls of a module, each with the function that it stands in (its name and scope), and what it imports."""

    module: str
    imported: dict[str, tuple[str, str]]
    methods: set[str]
    calls: list[tuple[str, Scope, ast.Call]]


@cache
def _calls(name: str, text: str) -> Calls:
    tree = ast.parse(text)
    top = Scope([], {f"{function.name}()": [ast.Constant("")] for function in tree.body if _of_package(function)})
    _note(tree.body, top)
    methods = {
        function.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ClassDef)
        for function in node.body
        if isinstance(function, ast.FunctionDef)
    }
    called = [(function, scope, node) for function, scope, node in _walk(tree, top, "") if isinstance(node, ast.Call)]
    return Calls(name, _imported(tree), methods, called)


def _of_module(of: Calls, runs: Runners, seen: set[Runner], trusted: set[Runner]) -> Iterator[Runner]:
    name = of.module
    for function, scope, node in of.calls:
        called = _called(node, name, of.imported)
        if called[1] in RELATION and _of_relation(node) and not all(isinstance(a, ast.Constant) for a in node.args):
            yield name, function
        run = _runner(called, runs)
        if run is None:
            continue
        seen.add(run)
        statement = _argument(node, *runs[run])
        if (name, function) in trusted or statement is None or constant(statement, scope):
            continue
        handed = None if isinstance(scope.of, ast.Lambda) else _handed_on(statement, scope)
        if handed is None:
            yield name, function
        else:
            runs.setdefault(("" if function in of.methods else name, function), handed)


def _of_package(node: ast.stmt) -> bool:
    """Whether it is a function of nothing that is kept for good: it reads statements from a file of the package."""
    if not isinstance(node, ast.FunctionDef) or ast.unparse(node.args):
        return False
    return any(isinstance(mark, ast.Name) and mark.id == "cache" for mark in node.decorator_list)


def _imported(tree: ast.Module) -> dict[str, tuple[str, str]]:
    """What a name of a module stands for: the module it comes from and its name there (none for a whole module)."""
    found = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                found[alias.asname or alias.name] = (node.module, alias.name)
    return found


def _called(node: ast.Call, module: str, imported: dict[str, tuple[str, str]]) -> Runner:
    """The function that is called."""
    match node.func:
        case ast.Name(id=name):
            return imported.get(name, (module, name))
        case ast.Attribute(value=ast.Name(id=owner), attr=name) if owner in imported and owner[0].islower():
            package, inner = imported[owner]
            return f"{package}.{inner}", name
        case ast.Attribute(attr=name):
            return "", name
    return "", ""


def _runner(called: Runner, runs: Runners) -> Runner | None:
    """The function that takes a statement, if it is one that is called."""
    module, name = called
    if ("", name) in runs and (not module or name in RUN):
        return "", name
    # a package hands on what its rooms make
    found = [run for run in runs if module and run[1] == name and f"{run[0]}.".startswith(f"{module}.")]
    return found[0] if found else None


def _of_relation(node: ast.Call) -> bool:
    """Whether the method is one of a relation, as `con.table(name).order("all")`."""
    inner = node.func.value if isinstance(node.func, ast.Attribute) else None
    named = inner.func if isinstance(inner, ast.Call) else None
    return isinstance(named, ast.Attribute) and named.attr in ("table", "sql", "query")


def _argument(node: ast.Call, place: int, name: str) -> ast.expr | None:
    """The argument of a call that is the statement; of one that unpacks what it gives, what it unpacks."""
    for argument in node.args[: place + 1]:
        if isinstance(argument, ast.Starred):
            return argument.value
    if len(node.args) > place:
        return node.args[place]
    named = {key.arg: key.value for key in node.keywords}
    return named.get(name) or named.get(None)


def _handed_on(statement: ast.expr, scope: Scope) -> tuple[int, str] | None:
    """Which of what the function is given is in the statement, where all else in it is constant."""
    for place, given in enumerate(scope.given):
        if constant(statement, Scope([], {**scope.set_to, given: [ast.Constant("")]}, scope.above)):
            return place, given
    return None


def _walk(tree: ast.AST, scope: Scope, function: str) -> Iterator[tuple[str, Scope, ast.AST]]:
    for node in ast.iter_child_nodes(tree):
        inner, name = scope, function
        if isinstance(node, ast.FunctionDef | ast.Lambda):
            given = [a.arg for a in (*node.args.posonlyargs, *node.args.args)]
            own = [arg for arg in given if arg not in ("self", "cls")]
            inner = Scope(own, above=scope, of=node)
            hidden = (*own, *(a.arg for a in node.args.kwonlyargs))
            hidden += tuple(a.arg for a in (node.args.vararg, node.args.kwarg) if a)
            inner.set_to |= {arg: [ast.Name(arg)] for arg in hidden}
            if isinstance(node, ast.FunctionDef):
                name = node.name
                _note(node.body, inner)
        elif isinstance(node, ast.ListComp | ast.GeneratorExp | ast.SetComp | ast.DictComp):
            inner = Scope(scope.given, {}, scope, scope.of)
            for loop in node.generators:
                _set(loop.target, loop.iter, inner)
        yield name, inner, node
        yield from _walk(node, inner, name)


def _note(body: list[ast.stmt], scope: Scope) -> None:
    """What the names of a body are set to, not in the functions within."""
    for statement in body:
        if isinstance(statement, ast.FunctionDef | ast.ClassDef):
            continue
        if isinstance(statement, ast.Assign):
            for target in statement.targets:
                _set(target, statement.value, scope)
        elif isinstance(statement, ast.AnnAssign | ast.AugAssign) and statement.value:
            _set(statement.target, statement.value, scope)
        elif isinstance(statement, ast.For):
            _set(statement.target, statement.iter, scope)
        elif isinstance(statement, ast.With):
            for item in statement.items:
                if item.optional_vars:
                    _set(item.optional_vars, item.context_expr, scope)
        for child in ast.iter_child_nodes(statement):
            if not isinstance(child, ast.stmt | ast.excepthandler | ast.match_case):
                for node in ast.walk(child):
                    _put_in(node, scope)
        for part in ("body", "orelse", "finalbody"):
            _note(getattr(statement, part, []), scope)
        for branch in (*getattr(statement, "handlers", []), *getattr(statement, "cases", [])):
            _note(branch.body, scope)


def _put_in(node: ast.AST, scope: Scope) -> None:
    """What an expression sets a name to, or puts into what a name stands for."""
    if isinstance(node, ast.NamedExpr):
        _set(node.target, node.value, scope)
    match node:
        case ast.Call(func=ast.Attribute(value=ast.Name(id=name), attr=attr), args=args) if attr in PUT_IN:
            scope.set_to.setdefault(name, []).extend(args)


def _set(target: ast.expr, value: ast.expr, scope: Scope) -> None:
    for node in ast.walk(target):
        if isinstance(node, ast.Name):
            scope.set_to.setdefault(node.id, []).append(value)


def constant(node: ast.expr | None, scope: Scope, seen: frozenset[str] = frozenset()) -> bool:
    """Whether an expression is made of constants alone."""
    match node:
        case None | ast.Constant():
            return True
        case ast.Name(id=name):
            return _name(name, scope, seen)
        case ast.JoinedStr(values=values):
            return all(constant(value, scope, seen) for value in values)
        case ast.FormattedValue(value=value):
            return constant(value, scope, seen)
        case ast.BinOp(left=left, right=right):
            return constant(left, scope, seen) and constant(right, scope, seen)
        case ast.IfExp(body=body, orelse=other):
            return constant(body, scope, seen) and constant(other, scope, seen)
        case ast.Tuple(elts=parts) | ast.List(elts=parts):
            return all(constant(part, scope, seen) for part in parts)
        case ast.Dict(values=values):
            return all(constant(value, scope, seen) for value in values)
        case ast.Subscript(value=table):
            # whatever the key is, what a constant table holds is constant
            return constant(table, scope, seen)
        case ast.Starred(value=value):
            return constant(value, scope, seen)
        case ast.GeneratorExp(elt=part, generators=loops) | ast.ListComp(elt=part, generators=loops):
            return constant(part, _looped(loops, scope), seen)
        case ast.DictComp(value=part, generators=loops):
            return constant(part, _looped(loops, scope), seen)
        case ast.Call(func=ast.Name(id=called), args=[], keywords=[]):
            return _name(f"{called}()", scope, seen)
        case ast.Call(func=ast.Attribute(value=value, attr="get"), args=[_, *default]):
            return constant(value, scope, seen) and all(constant(part, scope, seen) for part in default)
        case ast.Call(func=ast.Attribute(value=value, attr=attr), args=args) if attr in TEXT_OF_TEXT:
            return constant(value, scope, seen) and all(constant(part, scope, seen) for part in args)
        case ast.Call(func=ast.Name(id=called), args=[query, *_]) if called == "str":
            return constant(query, scope, seen)
        case ast.Call(func=ast.Attribute(attr="one_select") | ast.Name(id="one_select"), args=[_, query]):
            return constant(query, scope, seen)
    return False


def _looped(loops: list[ast.comprehension], scope: Scope) -> Scope:
    inner = Scope(scope.given, {}, scope, scope.of)
    for loop in loops:
        _set(loop.target, loop.iter, inner)
    return inner


def _name(name: str, scope: Scope, seen: frozenset[str]) -> bool:
    place: Scope | None = scope
    while place:
        if name in place.set_to:
            if name in seen:
                return False
            return all(constant(value, place, seen | {name}) for value in place.set_to[name])
        place = place.above
    # not set in this module: a constant that another one of ours gives
    return name.lstrip("_").isupper()


def texts(paths: Iterable[Path]) -> list[tuple[str, str]]:
    """Modules of the house as (name, text)."""
    root = Path(__file__).parents[1]
    return [
        (".".join(path.relative_to(root).with_suffix("").parts).removesuffix(".__init__"), path.read_text("utf-8"))
        for path in paths
    ]
