"""Small pieces of Python's syntax tree, as the translation of the portable core needs them."""

from __future__ import annotations

import ast
import copy
import inspect
import textwrap
import threading
from functools import cache
from typing import Any

from telemetry.errors import StrategyError

_alone = threading.RLock()
"""Two threads that make a tree at once disturb each other (CPython issue 106905, before 3.12): it ends in a SystemError."""


def parsed(text: str | bytes) -> ast.Module:
    """As ``ast.parse``, for threads."""
    with _alone:
        return ast.parse(text)


def loaded(target: ast.expr) -> ast.expr:
    """What is assigned to, as it is read."""
    statement = parsed(ast.unparse(target)).body[0]
    assert isinstance(statement, ast.Expr)
    return statement.value


def source_of(thing: Any) -> str:
    """The source of a class or function, for threads. Raises OSError or TypeError where there is none."""
    with _alone:  # of a class it is found through its file's tree
        return textwrap.dedent(inspect.getsource(thing))


@cache
def class_tree(cls: type[Any]) -> ast.ClassDef:
    try:
        source = source_of(cls)
    except (OSError, TypeError) as error:
        raise StrategyError("its source cannot be found, so it cannot be compiled", where=cls.__name__) from error
    tree = parsed(source).body[0]
    assert isinstance(tree, ast.ClassDef)
    return tree


def name_of(name: str) -> ast.Name:
    return ast.Name(name, ast.Load())


def assignment(name: str, value: ast.expr) -> ast.stmt:
    return ast.Assign([ast.Name(name, ast.Store())], value)


def calls_method(node: ast.expr) -> bool:
    """Is a method called in it?"""
    return any(isinstance(inner, ast.Call) and isinstance(inner.func, ast.Attribute) for inner in ast.walk(node))


def folded(node: ast.expr) -> ast.expr:
    """Its value, where that is known beforehand (``m.end`` while a run goes on)."""
    if isinstance(node, ast.BoolOp):
        stops = isinstance(node.op, ast.Or)
        values = [each for each in node.values if not (isinstance(each, ast.Constant) and bool(each.value) != stops)]
        if not values:
            return ast.Constant(value=int(not stops))
        if isinstance(values[0], ast.Constant):
            return values[0]
        return values[0] if len(values) == 1 else ast.BoolOp(node.op, values)
    parts = [inner for inner in ast.iter_child_nodes(node) if isinstance(inner, ast.expr)]
    known = all(isinstance(inner, ast.Constant) for inner in parts)
    if known and isinstance(node, ast.Compare | ast.UnaryOp | ast.BinOp):
        # Only constants and operators: nothing but arithmetic is evaluated.
        return ast.Constant(value=int(eval(compile(ast.fix_missing_locations(ast.Expression(node)), "", "eval"), {})))
    return node


def always_returns(body: list[ast.stmt]) -> bool:
    last = body[-1]
    if isinstance(last, ast.If):
        return bool(last.orelse) and always_returns(last.body) and always_returns(last.orelse)
    return isinstance(last, ast.Return) and last.value is not None


def text_of(statements: list[ast.stmt]) -> list[str]:
    """Statements as lines of source."""
    module = ast.fix_missing_locations(ast.Module(statements, []))
    return ast.unparse(module).split("\n")


def without_words(node: ast.Module | ast.ClassDef | ast.FunctionDef) -> ast.Module | ast.ClassDef | ast.FunctionDef:
    """A copy without docstrings."""
    node = copy.deepcopy(node)
    for inner in ast.walk(node):
        if isinstance(inner, ast.Module | ast.ClassDef | ast.FunctionDef) and ast.get_docstring(inner) is not None:
            inner.body = inner.body[1:] or [ast.Pass()]
    return node
