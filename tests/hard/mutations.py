"""Mutations of SQL and Python: one thing changed in a file's text, as a slip of the hand would. Pure functions."""

import ast
import copy
import re
from collections.abc import Iterator
from dataclasses import dataclass


@dataclass(frozen=True)
class Mutant:
    """A file's text with one thing changed: which file and line, what kind of change, and the line before and after."""

    file: str
    line: int
    kind: str
    before: str
    after: str
    text: str

    @property
    def name(self) -> str:
        return f"{self.file}:{self.line} {self.kind}: {self.before.strip()} → {self.after.strip()}"


_SWAPS = (
    ("sign", r" \+ ", " - "),
    ("sign", r" - ", " + "),
    ("comparison", r" > ", " >= "),
    ("comparison", r" >= ", " > "),
    ("comparison", r" < ", " <= "),
    ("comparison", r" <= ", " < "),
    ("comparison", r" <> ", " = "),
    ("aggregate", r"\bsum\(", "max("),
    ("aggregate", r"\bmin\(", "max("),
    ("aggregate", r"\bmax\(", "min("),
    ("bound", r"\bleast\(", "greatest("),
    ("bound", r"\bgreatest\(", "least("),
    ("join", r"\bleft join\b", "join"),
    ("join", r"(?<!left )(?<!anti )(?<!semi )(?<!cross )(?<!asof )(?<!full )\bjoin\b", "left join"),
    ("join", r"\banti join\b", "semi join"),
    ("join", r"\bsemi join\b", "anti join"),
    ("order", r" desc\b", ""),
    ("logic", r" and (?!\d)", " or "),
    ("logic", r" or ", " and "),
    ("filter", r"\bwhere .*", "where true"),
    ("filter", r"^( *)and .*", r"\1and true"),
    ("nothing", r"\bcoalesce\(([a-z_.]+), 0\)", r"\1"),
)


def of_sql(file: str, text: str) -> Iterator[Mutant]:
    """Every mutant of a model: its comment lines, and what stands in quotes, stay as they are."""
    lines = text.split("\n")
    for at, line in enumerate(lines):
        code = line.partition("--")[0]
        if not code.strip():
            continue
        quoted = [match.span() for match in re.finditer(r"'[^']*'", code)]
        for kind, pattern, instead in _SWAPS:
            for match in re.finditer(pattern, code):
                if any(start < match.start() < end for start, end in quoted):
                    continue
                if kind == "filter" and not _whole(match.group()):
                    continue
                if kind == "logic" and "between" in code:
                    continue
                after = code[: match.start()] + match.expand(instead) + code[match.end() :]
                yield Mutant(file, at + 1, kind, line, after, "\n".join([*lines[:at], after, *lines[at + 1 :]]))


def _whole(condition: str) -> bool:
    """Whether a condition ends on its line: one that goes on in a bracket can't be taken out."""
    return condition.count("(") == condition.count(")") and not re.search(r"\b(and|or|case|in)$", condition.strip())


_COMPARED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
_WORKED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.FloorDiv, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult,
}  # fmt: skip


def of_python(file: str, text: str) -> Iterator[Mutant]:
    """Every mutant of a module: comparisons, signs, and/or, not, numbers; none of what only annotates or tells."""
    tree = ast.parse(text)
    lines = text.split("\n")
    for node in _of_code(tree):
        for kind, changed in _changed(node):
            line = node.lineno  # type: ignore[attr-defined]
            source = ast.get_source_segment(text, node) or ""
            yield Mutant(file, line, kind, source or lines[line - 1], ast.unparse(changed), _put(text, node, changed))


def _put(text: str, node: ast.AST, changed: ast.AST) -> str:
    """The text with `changed` in the place of a node: bytes, since that is how `ast` counts."""
    lines = text.encode().split(b"\n")
    first, last = node.lineno - 1, node.end_lineno - 1  # type: ignore[attr-defined]
    begin, end = lines[first][: node.col_offset], lines[last][node.end_col_offset :]  # type: ignore[attr-defined]
    new = begin + b"(" + ast.unparse(changed).encode() + b")" + end
    # what follows keeps its line
    filled = [new, *[b""] * (last - first)] if not _in_brackets(node) else [new + b"\n" * (last - first)]
    return b"\n".join([*lines[:first], *filled, *lines[last + 1 :]]).decode()


def _in_brackets(node: ast.AST) -> bool:
    return node.end_lineno != node.lineno  # type: ignore[attr-defined]


def _of_code(tree: ast.AST) -> Iterator[ast.AST]:
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.JoinedStr | ast.Import | ast.ImportFrom):
            continue
        if isinstance(node, ast.AnnAssign) and node.value:
            yield from _of_code(ast.Expression(node.value))
            continue
        if isinstance(node, ast.arguments):
            continue
        if isinstance(node, ast.expr):
            yield node
        yield from _of_code(node)


def _changed(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    new = copy.deepcopy(node)
    if isinstance(new, ast.Compare) and type(new.ops[0]) in _COMPARED:
        new.ops[0] = _COMPARED[type(new.ops[0])]()
        yield "comparison", new
    elif isinstance(new, ast.BinOp) and type(new.op) in _WORKED and not _is_text(new):
        new.op = _WORKED[type(new.op)]()
        yield "sign", new
    elif isinstance(new, ast.BoolOp):
        new.op = ast.Or() if isinstance(new.op, ast.And) else ast.And()
        yield "logic", new
    elif isinstance(new, ast.UnaryOp) and isinstance(new.op, ast.Not):
        yield "logic", new.operand
    elif isinstance(new, ast.Constant) and type(new.value) is int:
        yield "number", ast.Constant(new.value + 1)


def _is_text(node: ast.BinOp) -> bool:
    return any(isinstance(side, ast.JoinedStr) or (isinstance(side, ast.Constant) and isinstance(side.value, str))
               for side in (node.left, node.right))  # fmt: skip
