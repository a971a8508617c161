"""One-step changes of a module's code: which there are, and the code with one of them made.

A change is known by the function it is in and by what was there and what would be, not by its
line, so that its name outlives edits elsewhere in the file.
"""

from __future__ import annotations

import ast
import copy
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

_FLIPS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.In: ast.NotIn, ast.NotIn: ast.In,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
_NAMES = {"min": "max", "max": "min", "any": "all", "all": "any"}
_DROPPED = (ast.Expr, ast.AugAssign, ast.Delete, ast.Raise)


@dataclass(frozen=True)
class Change:
    """One change of one file."""

    path: str
    first: int
    last: int
    """The lines of the statement, or of a compound one's head."""
    on_loading: bool
    """Whether it runs as the module is loaded, in no function."""
    within: str
    before: str
    after: str
    number: int
    """Its place among the changes of the file."""

    @property
    def number_and_path(self) -> str:
        return f"{self.number} {self.path}"

    @property
    def name(self) -> str:
        return f"{self.path}: {self.within}: {self.before} -> {self.after}"


def _variants(node: ast.AST) -> Iterator[ast.AST]:
    """Yield what a node could become."""
    if isinstance(node, ast.Compare):
        yield from _compared(node)
    elif isinstance(node, ast.BoolOp):
        yield ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)
        for value in node.values:
            rest = [v for v in node.values if v is not value]
            yield rest[0] if len(rest) == 1 else ast.BoolOp(node.op, rest)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield node.operand
    elif isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add | ast.Sub):
        other = ast.Sub() if isinstance(node.op, ast.Add) else ast.Add()
        yield ast.BinOp(node.left, other, node.right)
    elif isinstance(node, ast.Constant):
        yield from _constants(node)
    elif isinstance(node, ast.Name) and node.id in _NAMES:
        yield ast.Name(_NAMES[node.id], node.ctx)
    elif isinstance(node, ast.Return) and not _is_nothing(node.value):
        yield ast.Return(ast.Constant(None))
    elif isinstance(node, ast.comprehension) and node.ifs:
        yield ast.comprehension(node.target, node.iter, node.ifs[1:], node.is_async)
    elif isinstance(node, _DROPPED) or _sets_part(node):
        yield ast.Pass()


def _compared(node: ast.Compare) -> Iterator[ast.AST]:
    for place, op in enumerate(node.ops):
        ops = [*node.ops[:place], _FLIPS[type(op)](), *node.ops[place + 1 :]]
        yield ast.Compare(node.left, ops, node.comparators)
    for place, side in enumerate(node.comparators):
        if isinstance(side, ast.Constant) and isinstance(side.value, str):
            sides = list(node.comparators)
            sides[place] = ast.Constant(side.value + "_")
            yield ast.Compare(node.left, node.ops, sides)


def _constants(node: ast.Constant) -> Iterator[ast.AST]:
    if isinstance(node.value, bool):
        yield ast.Constant(not node.value)
    elif isinstance(node.value, int):
        yield from (ast.Constant(node.value + step) for step in (1, -1))


def _sets_part(node: ast.AST) -> bool:
    """Return whether a statement sets an attribute or an item: without it names still stand."""
    return isinstance(node, ast.Assign) and any(
        isinstance(t, ast.Attribute | ast.Subscript) for t in node.targets
    )


def _keys(node: ast.AST) -> Iterator[ast.AST]:
    """Yield a subscript, or a table, under another key."""
    if isinstance(node, ast.Subscript) and _is_text(node.slice):
        yield ast.Subscript(node.value, ast.Constant(node.slice.value + "_"), node.ctx)  # type: ignore[attr-defined]
    elif isinstance(node, ast.Dict):
        for place, key in enumerate(node.keys):
            if _is_text(key):
                keys = list(node.keys)
                keys[place] = ast.Constant(key.value + "_")  # type: ignore[union-attr]
                yield ast.Dict(keys, node.values)


def _is_nothing(node: ast.AST | None) -> bool:
    return node is None or (isinstance(node, ast.Constant) and node.value is None)


def _is_text(node: ast.AST | None) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, str)


_SKIPPED = ("annotation", "returns", "decorator_list")
_NAMED = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)


@dataclass(frozen=True)
class _Place:
    """Where a node stands."""

    within: str = ""
    first: int = 1
    last: int = 1
    on_loading: bool = True


def _placed(node: ast.AST, place: _Place) -> _Place:
    """Return where the parts of a node stand."""
    if not isinstance(node, ast.stmt):
        return place
    body = getattr(node, "body", None)
    last = body[0].lineno - 1 if body else node.end_lineno or node.lineno
    return replace(place, first=node.lineno, last=max(node.lineno, last))


def _walk(node: ast.AST, place: _Place, visit: Callable[[ast.AST, _Place], None]) -> None:
    """Go over what can be changed: no annotation, no docstring, no option of a class."""
    for name, value in ast.iter_fields(node):
        if name in _SKIPPED or (name == "keywords" and isinstance(node, ast.ClassDef)):
            continue
        for child in value if isinstance(value, list) else [value]:
            if not isinstance(child, ast.AST) or _is_docstring(child):
                continue
            inside = _placed(child, place)
            if isinstance(node, _NAMED) and name == "body":
                within = f"{place.within}.{node.name}" if place.within else node.name
                loading = place.on_loading and isinstance(node, ast.ClassDef)
                inside = replace(inside, within=within, on_loading=loading)
            visit(child, inside)
            _walk(child, inside, visit)


def _is_docstring(node: ast.AST) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def _short(node: ast.AST) -> str:
    text = " ".join(ast.unparse(ast.fix_missing_locations(node)).split())
    return text if len(text) <= 150 else text[:147] + "..."


def _found(tree: ast.AST) -> list[tuple[ast.AST, _Place, ast.AST]]:
    """Return every change of a tree: the node, where it stands, and what it would become."""
    found: list[tuple[ast.AST, _Place, ast.AST]] = []

    def visit(node: ast.AST, place: _Place) -> None:
        found.extend((node, place, new) for new in (*_variants(node), *_keys(node)))

    _walk(tree, _Place(), visit)
    return found


def changes(path: Path, name: str) -> list[Change]:
    """Return the changes of one file, in its order."""
    made = []
    for number, (node, at, new) in enumerate(_found(ast.parse(path.read_text("utf-8")))):
        before, after = _short(copy.deepcopy(node)), _short(copy.deepcopy(new))
        within = at.within or "module"
        place = name, at.first, at.last, at.on_loading, within
        made.append(Change(*place, before, after, number))
    return made


class _Replace(ast.NodeTransformer):
    def __init__(self, old: ast.AST, new: ast.AST) -> None:
        self.old, self.new = old, new

    def visit(self, node: ast.AST) -> ast.AST:
        if node is self.old:
            return ast.copy_location(self.new, node) if hasattr(node, "lineno") else self.new
        return self.generic_visit(node)


def changed(source: str, number: int) -> ast.Module:
    """Return a file's tree with one of its changes made."""
    tree = ast.parse(source)
    node, _, new = _found(tree)[number]
    made = _Replace(node, new).visit(tree)
    assert isinstance(made, ast.Module)
    return ast.fix_missing_locations(made)
