"""The portable core's own classes as the text of a MicroPython file: gathered, not written again.

A class brings the functions of its file and the classes it is made of. Whole numbers of a file go in where they are used:
looking up a name costs a board time. Comments and docstrings stay behind.
"""

from __future__ import annotations

import ast
import inspect
import sys
from itertools import groupby
from typing import Any

from telemetry.errors import StrategyError
from telemetry.reading.syntax import class_tree, parsed, source_of, without_words
from telemetry.sample import MISSING


class Gatherer:
    """Gathers classes and what they use. ``text``: all of it, in an order in which it can be read."""

    def __init__(self) -> None:
        self._pieces: dict[str, tuple[object, str]] = {}

    @property
    def names(self) -> frozenset[str]:
        """The classes and functions gathered."""
        return frozenset(self._pieces)

    @property
    def text(self) -> str:
        return "\n\n\n".join(piece for _, piece in self._pieces.values()) + "\n"

    def add(self, thing: Any) -> None:
        """A class or function of the portable core, with all that it uses; what is there already is not added again."""
        known = self._pieces.get(thing.__name__)
        if known is not None:
            if known[0] is not thing:
                raise StrategyError(f"two parts of the core are called '{thing.__name__}'", todo="One needs another name.")
            return
        self._pieces[thing.__name__] = (thing, "")  # holds its place: a class may name itself
        tree = _tree(thing)
        used = _Used(sys.modules[thing.__module__], tree)
        written = ast.unparse(ast.fix_missing_locations(used.visit(without_words(tree))))
        del self._pieces[thing.__name__]
        for other in used.others:
            if other is not thing:
                self.add(other)
        self._pieces[thing.__name__] = (thing, written)


def _tree(thing: Any) -> ast.ClassDef | ast.FunctionDef:
    if inspect.isclass(thing):
        return class_tree(thing)  # type: ignore[arg-type]
    tree = parsed(source_of(thing)).body[0]
    assert isinstance(tree, ast.FunctionDef)
    return tree


class _Used(ast.NodeTransformer):
    """Puts whole numbers of the file in place of their names, and notes the classes and functions that are used."""

    def __init__(self, module: Any, tree: ast.AST) -> None:
        self.module = module
        self.others: list[Any] = []
        self._own: list[set[str]] = []
        self._tree = tree

    def visit_ClassDef(self, node: ast.ClassDef) -> ast.ClassDef:
        self.generic_visit(node)
        for inner in node.body:
            if isinstance(inner, ast.FunctionDef):
                inner.body = _joined(inner.body)
        return node

    def visit_FunctionDef(self, node: ast.FunctionDef) -> ast.FunctionDef:
        stored = {one.id for one in ast.walk(node) if isinstance(one, ast.Name) and isinstance(one.ctx, ast.Store)}
        self._own.append({arg.arg for arg in node.args.args} | stored)
        self.generic_visit(node)
        self._own.pop()
        return node

    def visit_Name(self, node: ast.Name) -> ast.expr:
        if isinstance(node.ctx, ast.Store) or any(node.id in names for names in self._own):
            return node
        value = getattr(self.module, node.id, None)
        if type(value) is int:
            return whole(value)
        ours = (inspect.isfunction(value) or inspect.isclass(value)) and value.__module__.startswith("telemetry.")
        if ours and value not in self.others:
            self.others.append(value)
        return node

    def visit_UnaryOp(self, node: ast.UnaryOp) -> ast.expr:
        operand = node.operand
        if isinstance(node.op, ast.USub) and isinstance(operand, ast.Constant) and type(operand.value) is int:
            return whole(-operand.value)
        self.generic_visit(node)
        return node


def _joined(body: list[ast.stmt]) -> list[ast.stmt]:
    """Neighbours that set an attribute to the same number become one statement: shorter."""
    out: list[ast.stmt] = []
    for statement in body:
        before = out[-1] if out else None
        if isinstance(statement, ast.Assign) and isinstance(before, ast.Assign) and all(
            isinstance(target, ast.Attribute) for target in (*statement.targets, *before.targets)
        ):
            same = ast.dump(statement.value) == ast.dump(before.value)
            if same and isinstance(statement.value, ast.Constant | ast.UnaryOp):
                before.targets += statement.targets
                continue
        out.append(statement)
    return out


def whole(value: int) -> ast.expr:
    """A whole number as a board's small integer: -(1 << 30) is one, but the 1 << 30 before its sign is none."""
    if value == MISSING:
        return ast.UnaryOp(ast.Invert(), ast.Constant(-value - 1))
    return ast.Constant(value) if value >= 0 else ast.UnaryOp(ast.USub(), ast.Constant(-value))


def literal(values: list[int]) -> str:
    """A table as Python text, short where many neighbours are alike."""
    parts: list[str] = []
    single: list[str] = []
    for value, run in groupby(values):
        length = len(list(run))
        if length <= 6:
            single += [number(value)] * length
            continue
        if single:
            parts.append(f"[{', '.join(single)}]")
        single = []
        parts.append(f"[{number(value)}] * {length}")
    if single or not parts:
        parts.append(f"[{', '.join(single)}]")
    return " + ".join(parts)


def number(value: int) -> str:
    """A whole number as Python text."""
    return ast.unparse(whole(value))
