"""The portable core turned into one function a plan: the same source, read by Python's own ``ast``.

Every step of a chain, and every method it calls, is written out in one loop over the samples, with settings, state and
moment in local variables. Nothing is written twice: what is stepped on the robot is what is translated. As it is, the
result is plain Python, several times faster than the objects; ``compiled.py`` gives it to numba. The rules a stage's source
must keep are in DEVELOPERS.md; a breach is named with its line.
"""

from __future__ import annotations

import ast
import inspect
import sys
import textwrap
from collections.abc import Mapping, Sequence
from typing import Any, NoReturn

from telemetry.errors import StrategyError
from telemetry.reading.syntax import always_returns, assignment, calls_method, class_tree, folded, name_of, text_of

BUILT_IN = frozenset({"abs", "min", "max", "len", "range"})
BIG = 60
"""A method of more statements than this, with all it calls, becomes a function of its own: such are seldom called."""
_EXPRESSIONS = (
    ast.BinOp,
    ast.BoolOp,
    ast.UnaryOp,
    ast.Compare,
    ast.IfExp,
    ast.Name,
    ast.Constant,
    ast.Attribute,
    ast.Subscript,
    ast.Call,
)


class Inliner:
    """Writes out the methods of one stage object.

    ``prefix`` and ``moment`` go before the names of its own attributes and of the moment's. ``tables``: attribute -> the
    variable of that list. ``ending`` False: ``m.end`` is 0, and what only happens at the end of a run is left out.
    After use: ``moment_names`` that came up, and ``functions`` of its file.
    """

    def __init__(self, stage: object, prefix: str, moment: str, tables: Mapping[str, str], ending: bool = True) -> None:
        self.cls: type[Any] = type(stage)
        self.own = {prefix + name for name in vars(stage)} - {prefix + name for name in tables}
        self.prefix = prefix
        self.moment = moment
        self.tables = tables
        self.ending = ending
        self.moment_names: set[str] = set()
        self.functions: dict[str, str] = {}
        self._sites = 0
        self._big: dict[str, tuple[list[str], list[str], bool]] = {}

    def step(self) -> list[ast.stmt]:
        """``label = stage.step(label, m)``, written out."""
        return self.call("step", [name_of("label")], "label", ())

    def call(self, name: str, values: Sequence[ast.expr], result: str, calling: tuple[str, ...]) -> list[ast.stmt]:
        """A method written out; ``values``: of its parameters but ``m``; ``result``: the variable for what it returns."""
        tree = class_tree(self.cls)  # type: ignore[arg-type]
        found = [node for node in tree.body if isinstance(node, ast.FunctionDef) and node.name == name]
        if not found:
            self.refuse(tree, f"there is no method '{name}' in the class itself")
        if name in calling:
            self.refuse(found[0], f"the method '{name}' calls itself")
        calling = (*calling, name)
        written = _Method(self, found[0], calling).written(values, result)
        size = sum(isinstance(node, ast.stmt) for statement in written for node in ast.walk(statement))
        return written if name == "step" or size <= BIG else self._apart(found[0], calling, values, result)

    def _apart(
        self, node: ast.FunctionDef, calling: tuple[str, ...], values: Sequence[ast.expr], result: str
    ) -> list[ast.stmt]:
        """The call of a big method, which becomes a function: it takes what it uses and returns what it changes."""
        tables = set(self.tables.values())
        given = [value for value in values if not (isinstance(value, ast.Name) and value.id in tables)]
        same = [value.id for value in values if isinstance(value, ast.Name) and value.id in tables]
        name = "_".join([self.prefix + node.name, *same, "apart"])
        if name not in self._big:
            ending, self.ending = self.ending, True
            method = _Method(self, node, calling)
            parameters = [f"given{k}" for k in range(len(given))]
            left = iter(parameters)
            returned = method.local + "r" if method.valued else ""
            body = method.written([name_of(next(left)) if value in given else value for value in values], returned)
            self.ending = ending
            found = [inner for statement in body for inner in ast.walk(statement) if isinstance(inner, ast.Name)]
            mine = {inner.id for inner in found if inner.id in self.own or inner.id.startswith(self.moment)}
            uses = sorted(mine | {inner.id for inner in found if inner.id in tables})
            writes = sorted({inner.id for inner in found if isinstance(inner.ctx, ast.Store)} & mine)
            returns = [returned, *writes] if returned else writes
            body.append(
                ast.Return(ast.Tuple([name_of(each) for each in returns], ast.Load()) if returns else ast.Constant(0))
            )
            head = f"def {name}({', '.join(parameters + uses)}):"
            self.functions[name] = "\n".join([head, *("    " + line for line in text_of(body))]) + "\n"
            self._big[name] = (uses, writes, method.valued)
        uses, writes, valued = self._big[name]
        targets = [result or self.site() + "unused"] * valued + writes
        call = ast.Call(name_of(name), [*given, *map(name_of, uses)], [])
        if not targets:
            return [ast.Expr(call)]
        return [ast.Assign([ast.Tuple([ast.Name(each, ast.Store()) for each in targets], ast.Store())], call)]

    def refuse(self, node: ast.AST, rule: str) -> NoReturn:
        """A rule of the portable core was broken."""
        raise StrategyError(
            rule,
            where=f"{self.cls.__module__}.{self.cls.__name__}, line {getattr(node, 'lineno', 0)} of the class",
            todo="The rules for stages are in DEVELOPERS.md.",
        )

    def site(self) -> str:
        """A prefix for the local variables of one call."""
        self._sites += 1
        return f"{self.prefix}{self._sites}_"


class _Method:
    """One call of one method, on its way to being written out."""

    def __init__(self, inliner: Inliner, node: ast.FunctionDef, calling: tuple[str, ...]) -> None:
        self.inliner = inliner
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
        self.inliner.refuse(node, rule)

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
            if isinstance(value, ast.Name) and (same in self.inliner.tables.values() or same == result == "label"):
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
        if isinstance(value, ast.Attribute) and isinstance(value.value, ast.Name) and value.value.id == "self":
            return self.inliner.tables.get(value.attr)
        return None

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
            reading = ast.parse(ast.unparse(node.target), mode="eval").body
            before, value = self._hoisted(ast.BinOp(reading, node.op, node.value))
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
        owner = node.func.value
        if not (isinstance(owner, ast.Name) and owner.id == "self") or node.keywords:
            self.refuse(node, "only the stage's own methods can be called, with plain parameters")
        values, before = [], []
        for arg in node.args:
            if not (isinstance(arg, ast.Name) and arg.id == "m"):
                first, value = self._hoisted(arg)
                before += first
                values.append(value)
        return [*before, *self.inliner.call(node.func.attr, values, into, self.calling)]

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
        if isinstance(node.value, ast.Name) and node.value.id == "self":
            return self.inliner.tables.get(node.attr, self.inliner.prefix + node.attr)
        if isinstance(node.value, ast.Name) and node.value.id == "m":
            self.inliner.moment_names.add(node.attr)
            return self.inliner.moment + node.attr
        return self.refuse(node, "only self and m have attributes")

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
                self.refuse(node, f"{node.value!r} is no whole number")
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
                self.refuse(node, "only the stage's own methods and functions of its file can be called")
            if node.func.id not in BUILT_IN:
                self._function(node.func)
            return ast.Call(node.func, [self.value(arg) for arg in node.args], [])
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
        value = getattr(sys.modules[self.inliner.cls.__module__], node.id, None)
        if type(value) is not int:
            self.refuse(node, f"'{node.id}' is neither a variable nor a whole number of the file")
        return ast.Constant(value=value)

    def _function(self, node: ast.Name) -> None:
        function = getattr(sys.modules[self.inliner.cls.__module__], node.id, None)
        if not inspect.isfunction(function):
            self.refuse(node, f"there is no function '{node.id}' in the file")
        self.inliner.functions[node.id] = textwrap.dedent(inspect.getsource(function))
