"""The functions beside a stage's class, written out with the whole numbers of their own file.

Two files may have functions and constants of one name: each function is named after its file, and each constant is put in.
"""

from __future__ import annotations

import ast
from collections.abc import Callable
from types import FunctionType
from typing import NoReturn

from telemetry.reading.syntax import parsed, source_of, text_of

BUILT_IN = frozenset({"abs", "min", "max", "len", "range"})


class Helpers:
    """Collects functions; ``sources``: written-out name -> text. ``refuse(node, rule)`` says which rule was broken."""

    def __init__(self, refuse: Callable[[ast.AST, str], NoReturn]) -> None:
        self.sources: dict[str, str] = {}
        self._refuse = refuse

    def name_of(self, function: FunctionType) -> str:
        """What ``function`` is called once it is written out; it and all that it calls are in ``sources`` then."""
        name = f"{function.__name__}_of_{function.__module__.replace('.', '_')}"
        if name not in self.sources:
            self.sources[name] = ""
            tree = parsed(source_of(function)).body[0]
            assert isinstance(tree, ast.FunctionDef)
            tree.name = name
            tree.decorator_list = []
            if ast.get_docstring(tree) is not None:
                tree.body = tree.body[1:] or [ast.Pass()]
            _Settled(self, function, self._refuse).visit(tree)
            self.sources[name] = "\n".join(text_of([tree])) + "\n"
        return name


class _Settled(ast.NodeTransformer):
    """Every name of the function's file becomes what it stands for."""

    def __init__(self, helpers: Helpers, function: FunctionType, refuse: Callable[[ast.AST, str], NoReturn]) -> None:
        self._helpers = helpers
        self._room = function.__globals__
        self._own = frozenset(function.__code__.co_varnames)
        self._refuse = refuse

    def visit_Name(self, node: ast.Name) -> ast.expr:
        if node.id in self._own or node.id in BUILT_IN:
            return node
        value = self._room.get(node.id)
        if type(value) is int:
            return ast.Constant(value=value)
        if isinstance(value, FunctionType):
            return ast.Name(self._helpers.name_of(value), node.ctx)
        return self._refuse(node, f"'{node.id}' is neither a variable nor a whole number nor a function of the file")
