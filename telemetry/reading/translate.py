"""The portable core turned into one function a plan: the same source, read by Python's own ``ast``.

Every step of a chain, and every method it calls, is written out in one loop over the samples, with settings, state and
moment in local variables. Nothing is written twice: what is stepped on the robot is what is translated. As it is, the
result is plain Python, several times faster than the objects; ``compiled.py`` gives it to numba. The rules a stage's source
must keep are in DEVELOPERS.md; a breach is named with its line.
"""

from __future__ import annotations

import ast
from collections.abc import Mapping, Sequence

from telemetry.reading.helpers import Helpers
from telemetry.reading.method import Calling, Method
from telemetry.reading.scope import Scope, refuse
from telemetry.reading.syntax import class_tree, name_of, text_of

BIG = 60
"""A method of more statements than this, with all it calls, becomes a function of its own: such are seldom called."""


class Inliner:
    """Writes out the methods of one stage object and of the parts it owns.

    ``scopes``: id of the stage, and of each part -> how its numbers and tables are named. ``moment`` goes before the names
    of the moment's numbers. ``ending`` False: ``m.end`` is 0, and what only happens at the end of a run is left out.
    After use: ``moment_names`` that came up, and ``functions`` that are called.
    """

    def __init__(self, stage: object, moment: str, scopes: Mapping[int, Scope], ending: bool = True) -> None:
        self.scopes = scopes
        self.scope = scopes[id(stage)]
        self.moment = moment
        self.ending = ending
        self.moment_names: set[str] = set()
        self.table_names = frozenset(name for scope in scopes.values() for name in scope.tables.values())
        self.helpers = Helpers(lambda node, rule: refuse(self.scope, node, rule))
        self._own = {scope.prefix + name for scope in scopes.values() for name in scope.numbers}
        self._apart_sources: dict[str, str] = {}
        self._sites = 0
        self._big: dict[str, tuple[list[str], list[str], bool]] = {}

    @property
    def functions(self) -> dict[str, str]:
        """Name -> text of the functions that what was written out calls."""
        return {**self.helpers.sources, **self._apart_sources}

    def step(self) -> list[ast.stmt]:
        """``label = stage.step(label, m)``, written out."""
        return self.call(self.scope, "step", [name_of("label")], "label", ())

    def part(self, scope: Scope, name: str) -> Scope | None:
        """The part that ``scope`` keeps under ``name``; None where that is a number or a table."""
        return self.scopes.get(id(getattr(scope.owner, name, None)))

    def call(
        self, scope: Scope, name: str, values: Sequence[ast.expr], result: str, calling: Calling
    ) -> list[ast.stmt]:
        """A method written out; ``values``: of its parameters but ``m``; ``result``: the variable for what it returns."""
        tree = class_tree(type(scope.owner))  # type: ignore[arg-type]
        found = [node for node in tree.body if isinstance(node, ast.FunctionDef) and node.name == name]
        if not found:
            refuse(scope, tree, f"there is no method '{name}' in the class itself")
        if (scope.prefix, name) in calling:
            refuse(scope, found[0], f"the method '{name}' calls itself")
        calling = (*calling, (scope.prefix, name))
        written = Method(self, scope, found[0], calling).written(values, result)
        size = sum(isinstance(node, ast.stmt) for statement in written for node in ast.walk(statement))
        return written if name == "step" or size <= BIG else self._apart(scope, found[0], calling, values, result)

    def _apart(
        self, scope: Scope, node: ast.FunctionDef, calling: Calling, values: Sequence[ast.expr], result: str
    ) -> list[ast.stmt]:
        """The call of a big method, which becomes a function: it takes what it uses and returns what it changes."""
        tables = self.table_names
        given = [value for value in values if not (isinstance(value, ast.Name) and value.id in tables)]
        same = [value.id for value in values if isinstance(value, ast.Name) and value.id in tables]
        name = "_".join([scope.prefix + node.name, *same, "apart"])
        if name not in self._big:
            ending, self.ending = self.ending, True
            method = Method(self, scope, node, calling)
            parameters = [f"given{k}" for k in range(len(given))]
            left = iter(parameters)
            returned = method.local + "r" if method.valued else ""
            body = method.written([name_of(next(left)) if value in given else value for value in values], returned)
            self.ending = ending
            found = [inner for statement in body for inner in ast.walk(statement) if isinstance(inner, ast.Name)]
            mine = {inner.id for inner in found if inner.id in self._own or inner.id.startswith(self.moment)}
            uses = sorted(mine | {inner.id for inner in found if inner.id in tables})
            writes = sorted({inner.id for inner in found if isinstance(inner.ctx, ast.Store)} & mine)
            returns = [returned, *writes] if returned else writes
            body.append(
                ast.Return(ast.Tuple([name_of(each) for each in returns], ast.Load()) if returns else ast.Constant(0))
            )
            head = f"def {name}({', '.join(parameters + uses)}):"
            self._apart_sources[name] = "\n".join([head, *("    " + line for line in text_of(body))]) + "\n"
            self._big[name] = (uses, writes, method.valued)
        uses, writes, valued = self._big[name]
        targets = [result or self.site() + "unused"] * valued + writes
        call = ast.Call(name_of(name), [*given, *map(name_of, uses)], [])
        if not targets:
            return [ast.Expr(call)]
        return [ast.Assign([ast.Tuple([ast.Name(each, ast.Store()) for each in targets], ast.Store())], call)]

    def site(self) -> str:
        """A prefix for the local variables of one call."""
        self._sites += 1
        return f"{self.scope.prefix}{self._sites}_"
