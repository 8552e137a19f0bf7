"""One method of the portable core written out: its statements and expressions with plain names instead of attributes."""

from __future__ import annotations

import ast
from collections.abc import Sequence
from types import FunctionType
from typing import Any, NoReturn, Protocol

from telemetry.reading.helpers import BUILT_IN, Helpers
from telemetry.reading.scope import Scope, refuse
from telemetry.reading.syntax import always_returns, assignment, calls_method, folded, loaded, name_of

Calling = tuple[tuple[str, str], ...]
"""The methods that are being written out around this one: (the owner's prefix, the method's name)."""
_EXPRESSIONS = (
    ast.BinOp, ast.BoolOp, ast.UnaryOp, ast.Compare, ast.IfExp, ast.Name, ast.Constant, ast.Attribute,
    ast.Subscript, ast.Call,
)  # fmt: skip


class Writing(Protocol):
    """What writes a stage out, as one of its methods knows it; see translate.Inliner."""

    moment: str
    ending: bool
    moment_names: set[str]
    table_names: frozenset[str]
    helpers: Helpers

    def call(
        self, scope: Scope, name: str, values: Sequence[ast.expr], result: str, calling: Calling
    ) -> list[ast.stmt]: ...

    def part(self, scope: Scope, name: str) -> Scope | None: ...

    def site(self) -> str: ...


class Method:
    """One call of one method of the stage or a part of it, on its way to being written out."""

    def __init__(self, inliner: Writing, scope: Scope, node: ast.FunctionDef, calling: Calling) -> None:
        self.inliner = inliner
        self.scope = scope
        self.node = node
        self.calling = calling
        self.local = inliner.site()
        self.known: dict[str, str] = {}
        self.result = ""
        self.leaves = self.local + "leaves"
        self.before: list[ast.stmt] | None = None
        self.variables = {arg.arg for arg in node.args.args} | {
            inner.id for inner in ast.walk(node) if isinstance(inner, ast.Name) and isinstance(inner.ctx, ast.Store)
        }

    @property
    def valued(self) -> bool:
        """Does it return anything?"""
        return any(isinstance(inner, ast.Return) and inner.value is not None for inner in ast.walk(self.node))

    def refuse(self, node: ast.AST, rule: str) -> NoReturn:
        refuse(self.scope, node, rule)

    def written(self, values: Sequence[ast.expr], result: str) -> list[ast.stmt]:
        node, body = self.node, self.node.body
        arguments = node.args
        if arguments.vararg or arguments.kwarg or arguments.kwonlyargs or arguments.defaults:
            self.refuse(node, f"'{node.name}' takes more than plain parameters")
        parameters = [arg.arg for arg in arguments.args[1:] if arg.arg != "m"]
        if len(parameters) != len(values):
            self.refuse(node, f"'{node.name}' is called with another number of values than it takes")
        valued = self.valued
        if (result or valued) and not always_returns(body):
            self.refuse(node, f"'{node.name}' does not return a number on every way through it")
        self.result = result or (self.local + "unused" if valued else "")
        before = []
        for parameter, value in zip(parameters, values, strict=True):
            same = value.id if isinstance(value, ast.Name) else ""
            if isinstance(value, ast.Name) and (same in self.inliner.table_names or same == result == "label"):
                self.known[parameter] = value.id
            else:
                before.append(assignment(self.local + parameter, value))
        self._find_tables(body)
        returns = [inner for inner in ast.walk(node) if isinstance(inner, ast.Return)]
        last = body[-1]
        if not returns or returns == [last]:
            return [*before, *self.block(body, 0, last=True)] or [ast.Pass()]
        written = self.block(body, 0)
        if not isinstance(written[-1], ast.Break):
            written.append(ast.Break())
        return [*before, ast.While(ast.Constant(value=True), written, [])]

    def _find_tables(self, body: list[ast.stmt]) -> None:
        """A variable that stands for a table is that table."""
        for statement in body:
            for node in ast.walk(statement):
                if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
                    value, name = node.value, node.targets[0].id
                    table = self._table(value)
                    if table and self.known.setdefault(name, table) != table:
                        self.refuse(node, f"'{name}' stands for two tables")

    def _table(self, value: ast.expr) -> str | None:
        scope = self._owner(value.value) if isinstance(value, ast.Attribute) else None
        return scope.tables.get(value.attr) if scope and isinstance(value, ast.Attribute) else None

    def _owner(self, node: ast.expr) -> Scope | None:
        """Whose attribute follows: of ``self``, or of a part of it (``self.part``, ``self.part.inner``)."""
        if isinstance(node, ast.Name):
            return self.scope if node.id == "self" else None
        outer = self._owner(node.value) if isinstance(node, ast.Attribute) else None
        return self.inliner.part(outer, node.attr) if outer and isinstance(node, ast.Attribute) else None

    def block(self, body: list[ast.stmt], depth: int, last: bool = False) -> list[ast.stmt]:
        """Statements written out; ``depth``: how many loops of the method they stand in."""
        out = []
        for statement in body:
            out += self.statement(statement, depth, last and statement is body[-1])
        return out or [ast.Pass()]

    def statement(self, node: ast.stmt, depth: int, last: bool) -> list[ast.stmt]:
        if isinstance(node, ast.Expr):
            if isinstance(node.value, ast.Constant):
                return []
            written = self._called(node.value, "")
            if not written:
                self.refuse(node, "an expression stands alone and does nothing")
            return written
        if isinstance(node, ast.Assign):
            return self._assign(node)
        if isinstance(node, ast.AugAssign):
            before, value = self._hoisted(ast.BinOp(loaded(node.target), node.op, node.value))
            return [*before, ast.Assign([self._target(node.target)], value)]
        if isinstance(node, ast.Return):
            return self._return(node, depth, last)
        if isinstance(node, ast.If):
            return self._if(node, depth)
        if isinstance(node, ast.While | ast.For):
            return self._loop(node, depth)
        if isinstance(node, ast.Pass | ast.Break | ast.Continue):
            return [node]
        return self.refuse(node, f"a stage cannot use '{type(node).__name__.lower()}'")

    def _assign(self, node: ast.Assign) -> list[ast.stmt]:
        if len(node.targets) != 1:
            self.refuse(node, "one assignment sets one thing")
        target = node.targets[0]
        if isinstance(target, ast.Name) and target.id in self.known and self.known[target.id] != "label":
            if self._table(node.value) is None:
                self.refuse(node, f"'{target.id}' stands for a table and for a number")
            return []
        if isinstance(node.value, ast.Call) and isinstance(node.value.func, ast.Attribute):
            into = self.local + "got"
            return [*self._called(node.value, into), ast.Assign([self._target(target)], name_of(into))]
        before, value = self._hoisted(node.value)
        return [*before, ast.Assign([self._target(target)], value)]

    def _if(self, node: ast.If, depth: int) -> list[ast.stmt]:
        test = node.test
        if isinstance(test, ast.BoolOp) and isinstance(test.op, ast.And) and not node.orelse and calls_method(test):
            # 'if a and self.helper()': one after the other, as Python does.
            rest = test.values[1] if len(test.values) == 2 else ast.BoolOp(ast.And(), test.values[1:])
            inner = ast.copy_location(ast.If(rest, node.body, []), node)
            return self._if(ast.copy_location(ast.If(test.values[0], [inner], []), node), depth)
        before, value = self._hoisted(test)
        if isinstance(value, ast.Constant):
            return self.block(node.body if value.value else node.orelse, depth)
        orelse = self.block(node.orelse, depth) if node.orelse else []
        return [*before, ast.If(value, self.block(node.body, depth), orelse)]

    def _hoisted(self, node: ast.expr) -> tuple[list[ast.stmt], ast.expr]:
        """An expression, and the helpers in it, written out before it."""
        outer, self.before = self.before, []
        value = self.value(node)
        before, self.before = self.before, outer
        return before, value

    def _return(self, node: ast.Return, depth: int, last: bool) -> list[ast.stmt]:
        out: list[ast.stmt] = []
        if node.value is not None:
            out = self._called(node.value, self.result)
            if not out:
                before, value = self._hoisted(node.value)
                same = isinstance(value, ast.Name) and value.id == self.result
                out = before if same else [*before, assignment(self.result, value)]
        if last:
            return out
        if depth:
            out.append(assignment(self.leaves, ast.Constant(value=1)))
        return [*out, ast.Break()]

    def _loop(self, node: ast.While | ast.For, depth: int) -> list[ast.stmt]:
        if node.orelse:
            self.refuse(node, "a loop has no else")
        written = self.block(node.body, depth + 1)
        loop: ast.stmt
        if isinstance(node, ast.For):
            over = node.iter
            if not (isinstance(over, ast.Call) and isinstance(over.func, ast.Name) and over.func.id == "range"):
                self.refuse(node, "a loop runs over range(...)")
            before, span = self._hoisted(over)
            loop = ast.For(self._target(node.target), span, written, [])
        else:
            before, loop = [], ast.While(self.value(node.test), written, [])
        if not any(isinstance(inner, ast.Return) for inner in ast.walk(node)):
            return [*before, loop]
        leave = ast.If(name_of(self.leaves), [ast.Break()], [])
        return [*before, assignment(self.leaves, ast.Constant(value=0)), loop, leave]

    def _called(self, node: ast.expr, into: str) -> list[ast.stmt]:
        """A call of one of the stage's own methods written out; empty where it is none."""
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute):
            return []
        owner = self._owner(node.func.value)
        if owner is None or node.keywords:
            self.refuse(node, "only methods of the stage and its parts can be called, with plain parameters")
        values, before = [], []
        for arg in node.args:
            if not (isinstance(arg, ast.Name) and arg.id == "m"):
                first, value = self._hoisted(arg)
                before += first
                values.append(value)
        return [*before, *self.inliner.call(owner, node.func.attr, values, into, self.calling)]

    def _target(self, node: ast.expr) -> ast.expr:
        if isinstance(node, ast.Name):
            return ast.Name(self._variable(node.id), ast.Store())
        if isinstance(node, ast.Attribute):
            if self._table(node):
                self.refuse(node, "a table is changed entry by entry, never exchanged")
            return ast.Name(self._attribute(node), ast.Store())
        if isinstance(node, ast.Subscript):
            return ast.Subscript(self.value(node.value), self.value(node.slice), ast.Store())
        return self.refuse(node, "one assignment sets one number")

    def _variable(self, name: str) -> str:
        return self.known.get(name, self.local + name)

    def _attribute(self, node: ast.Attribute) -> str:
        if isinstance(node.value, ast.Name) and node.value.id == "m":
            self.inliner.moment_names.add(node.attr)
            return self.inliner.moment + node.attr
        scope = self._owner(node.value)
        if scope is None:
            self.refuse(node, "only self, its parts and m have attributes")
        return scope.tables.get(node.attr, scope.prefix + node.attr)

    def value(self, node: ast.expr) -> ast.expr:
        """An expression with plain names."""
        if not isinstance(node, _EXPRESSIONS):
            self.refuse(node, f"a stage cannot use '{type(node).__name__.lower()}'")
        if isinstance(node, ast.Attribute):
            if not self.inliner.ending and node.attr == "end" and isinstance(node.value, ast.Name) and node.value.id == "m":
                return ast.Constant(value=0)
            return name_of(self._attribute(node))
        if isinstance(node, ast.Constant):
            if type(node.value) not in {int, bool}:
                self.refuse(node, f"{node.value!r} is not a whole number")
            return node
        if isinstance(node, ast.Name):
            return self._named(node)
        if isinstance(node, ast.Call):
            if isinstance(node.func, ast.Attribute):
                if self.before is None:
                    self.refuse(node, "a method is not called where it may not be reached (behind and, or, if, while)")
                into = f"{self.inliner.site()}got"
                self.before += self._called(node, into)
                return name_of(into)
            if not isinstance(node.func, ast.Name) or node.keywords:
                self.refuse(node, "only methods of the stage and its parts, and functions of its file, can be called")
            called = node.func if node.func.id in BUILT_IN else name_of(self._function(node.func))
            return ast.Call(called, [self.value(arg) for arg in node.args], [])
        return self._inner(node)

    def _inner(self, node: ast.expr) -> ast.expr:
        """An expression made of others."""
        outer = self.before
        new = type(node)()
        for field, inner in ast.iter_fields(node):
            value: Any = inner
            done: list[Any] = []
            if isinstance(inner, ast.expr):
                if isinstance(node, ast.IfExp) and field != "test":
                    self.before = None
                value = self.value(inner)
            elif isinstance(inner, list):
                for each in inner:
                    done.append(self.value(each) if isinstance(each, ast.expr) else each)
                    if isinstance(node, ast.BoolOp):
                        self.before = None
            setattr(new, field, done if isinstance(inner, list) else value)
        self.before = outer
        return folded(new)

    def _named(self, node: ast.Name) -> ast.expr:
        if node.id in self.variables:
            return name_of(self._variable(node.id))
        value = self.scope.of_file(node.id)
        if type(value) is not int:
            self.refuse(node, f"'{node.id}' is neither a variable nor a whole number of the file")
        return ast.Constant(value=value)

    def _function(self, node: ast.Name) -> str:
        function = self.scope.of_file(node.id)
        if not isinstance(function, FunctionType):
            self.refuse(node, f"there is no function '{node.id}' in the file")
        return self.inliner.helpers.name_of(function)
