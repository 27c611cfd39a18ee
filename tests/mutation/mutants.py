"""Small changes of a module's syntax tree: comparisons, constants, operators, returned values."""

from __future__ import annotations

import ast
import copy
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    Change = Callable[[ast.AST], None]

ROOT = Path(__file__).parents[2]
_NEGATED = {
    ast.Lt: ast.GtE, ast.LtE: ast.Gt, ast.Gt: ast.LtE, ast.GtE: ast.Lt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
_AT_BOUNDARY = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}
_SWAPPED = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
    ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd,
}  # fmt: skip
# Arguments that change no result.
_NO_RESULT = ("strict", "ignore_index", "copy", "maxsize")


@dataclass(frozen=True)
class Mutant:
    """One changed place of a module.

    Parameters
    ----------
    path : pathlib.Path
    node, way : int
        Place of the node in `ast.walk`, and which of its changes.
    owner : str or None
        Qualified name of the function around it; None for the module or a class.
    line : int
    text : str
        Code before and after.
    """

    path: Path
    node: int
    way: int
    owner: str | None
    line: int
    text: str

    @property
    def name(self) -> str:
        """Name, different for each mutant of the project."""
        return f"{self.path.relative_to(ROOT)}:{self.node}:{self.way}"

    @property
    def module(self) -> str:
        """Dotted name of the module."""
        return ".".join(self.path.relative_to(ROOT).with_suffix("").parts)

    def tree(self) -> ast.Module:
        """Return the syntax tree of the module with the change."""
        tree = ast.parse(self.path.read_text("utf-8"))
        node = list(ast.walk(tree))[self.node]
        changes(node)[self.way](node)
        return ast.fix_missing_locations(tree)


def mutants(path: Path) -> list[Mutant]:
    """Return every mutant of a module; texts, annotations and decorators are left out."""
    tree = ast.parse(path.read_text("utf-8"))
    left_out, owners = _left_out(tree), dict(_owners(tree, ""))
    found = []
    for k, node in enumerate(ast.walk(tree)):
        if node in left_out:
            continue
        for way, change in enumerate(changes(node)):
            changed = copy.deepcopy(node)
            change(changed)
            text = f"{ast.unparse(node)} -> {ast.unparse(ast.fix_missing_locations(changed))}"
            found.append(Mutant(path, k, way, owners.get(node), getattr(node, "lineno", 0), text))
    return found


def changes(node: ast.AST) -> list[Change]:
    """Return the changes of a node; each is applied in place."""
    if isinstance(node, ast.Compare):
        return [
            _operator(k, table[type(op)])
            for k, op in enumerate(node.ops)
            for table in (_NEGATED, _AT_BOUNDARY)
            if type(op) in table
        ]
    if isinstance(node, ast.BinOp) and type(node.op) in _SWAPPED:
        return [_set(op=_SWAPPED[type(node.op)]())]
    if isinstance(node, ast.BoolOp):
        return [_set(op=ast.Or() if isinstance(node.op, ast.And) else ast.And())]
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, (ast.Not, ast.Invert, ast.USub)):
        return [_twice]
    if isinstance(node, ast.Return) and not _is_none(node.value):
        return [_set(value=ast.Constant(None))]
    return [_set(value=value) for value in _other_values(node)]


def _other_values(node: ast.AST) -> list[object]:
    value = getattr(node, "value", None) if isinstance(node, ast.Constant) else None
    if isinstance(value, bool):
        return [not value]
    if isinstance(value, (int, float)):
        return [value * 2, value * 10] if value else [1, 50]
    return []


def _operator(at: int, kind: type[ast.cmpop]) -> Change:
    def change(node: ast.AST) -> None:
        node.ops[at] = kind()  # type: ignore[attr-defined]

    return change


def _set(**values: object) -> Change:
    def change(node: ast.AST) -> None:
        for name, value in values.items():
            setattr(node, name, value)

    return change


def _twice(node: ast.AST) -> None:
    """Negate a second time, which undoes it."""
    node.operand = ast.UnaryOp(node.op, node.operand)  # type: ignore[attr-defined]


def _is_none(node: ast.expr | None) -> bool:
    return node is None or (isinstance(node, ast.Constant) and node.value is None)


def _left_out(tree: ast.Module) -> set[ast.AST]:
    """Return all nodes of texts, annotations, decorators and imports for types."""
    roots: list[ast.AST | None] = []
    for node in ast.walk(tree):
        if isinstance(node, (ast.FunctionDef, ast.ClassDef)):
            roots += node.decorator_list
        if isinstance(node, ast.FunctionDef):
            roots.append(node.returns)
        if isinstance(node, (ast.arg, ast.AnnAssign)):
            roots.append(node.annotation)
        if isinstance(node, ast.JoinedStr):
            roots.append(node)
        if isinstance(node, ast.keyword) and node.arg in _NO_RESULT:
            roots.append(node)
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            roots.append(node)
    return {node for root in roots if root for node in ast.walk(root)}


def _owners(node: ast.AST, name: str, owner: str | None = None) -> Iterator[tuple[ast.AST, str]]:
    """Yield each node inside a function with the function's qualified name."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, (ast.FunctionDef, ast.ClassDef)):
            inner = f"{name}{child.name}"
            function = isinstance(child, ast.FunctionDef)
            after = f"{inner}.<locals>." if function else f"{inner}."
            yield from _owners(child, after, inner if function else owner)
        else:
            yield from _owners(child, name, owner)
        if owner:
            yield child, owner
