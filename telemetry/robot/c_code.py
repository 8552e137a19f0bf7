"""Written-out Python (flat.py) as C99: whole numbers of 32 bits, no heap, no recursion, tables that never change const.

Python's rules hold: ``//`` and ``%`` round down, ``>>`` keeps the sign, a place below 0 counts from a table's end, a loop's
span is worked out once. What is shifted left goes through unsigned numbers. Nothing overflows, which the core's contract
tests with an integer that fails beyond 31 bits; the compiler's sanitizers watch it once more.
"""

from __future__ import annotations

import ast
from collections.abc import Mapping, Sequence

from telemetry.reading.syntax import parsed
from telemetry.robot.c_function import Function, number
from telemetry.robot.c_settle import Constants

HELPERS: Mapping[str, str] = {
    "floor_div(int32_t a, int32_t b)": "int32_t q = a / b; return q - ((a % b != 0) && ((a < 0) != (b < 0)));",
    "floor_mod(int32_t a, int32_t b)": "int32_t r = a % b; return ((r != 0) && ((r < 0) != (b < 0))) ? r + b : r;",
    "shift_left(int32_t a, int32_t b)": "return (int32_t)((uint32_t)a << b);",
    "shift_right(int32_t a, int32_t b)": "return a >= 0 ? a >> b : ~(~a >> b);",
    "entry(int32_t a, int32_t b)": "return a < 0 ? a + b : a;",
    "magnitude(int32_t a)": "return a < 0 ? -a : a;",
    "lesser(int32_t a, int32_t b)": "return a < b ? a : b;",
    "greater(int32_t a, int32_t b)": "return a > b ? a : b;",
}


class CFile:
    """One C file in the making. ``numbers``, ``tables``: those of the stages, by name, as they are at the begin of a run.

    ``steps``: the chains' steps as lines of Python; ``functions``: what they call, name -> text.
    """

    def __init__(
        self, numbers: Mapping[str, int], tables: Mapping[str, Sequence[int]],
        steps: Sequence[Sequence[str]], functions: Mapping[str, str],
    ) -> None:  # fmt: skip
        self.numbers = numbers
        self.tables = tables
        self.steps = [parsed("\n".join(lines)).body for lines in steps]
        self.functions = {name: _function(text) for name, text in functions.items()}
        bodies = [*self.steps, *(function.body for function in self.functions.values())]
        found = [node for body in bodies for statement in body for node in ast.walk(statement)]
        stored = {node.id for node in found if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)}
        self.state = [name for name in numbers if name in stored or name.startswith("m")]
        self.used: set[str] = set()
        self.passed: set[str] = set()
        self.called: set[str] = set()
        self._written = {
            node.value.id for node in found
            if isinstance(node, ast.Subscript) and isinstance(node.ctx, ast.Store) and isinstance(node.value, ast.Name)
        }  # fmt: skip
        settled = Constants(self.constant)
        self.steps = [settled.block(body) for body in self.steps]
        for function in self.functions.values():
            function.body = settled.block(function.body)

    def text(self) -> str:
        """Everything but the head and the functions that a program calls: tables, state, ``begin()``, ``step0()``..."""
        code = [Function(self, _step(number, body)).text() for number, body in enumerate(self.steps)]
        done: set[str] = set()
        while self.called - done:
            for name in sorted(self.called - done):
                code.append(Function(self, self.functions[name]).text())
                done.add(name)
        parts = [f"static int32_t {head} {{ {body} }}" for head, body in HELPERS.items()
                 if head.partition("(")[0] in self.used]  # fmt: skip
        parts += [self._table(name, values) for name, values in self.tables.items() if name in self.used]
        parts.append("".join(f"static int32_t {name};\n" for name in self.state if name in self.used))
        heads = [Function(self, self.functions[name]).head() + ";" for name in sorted(done)]
        return "\n".join([*parts, *heads, "", *code, self._begin()])

    def constant(self, name: str) -> int | None:
        """The value of a number that no step ever changes."""
        return None if name in self.state or name not in self.numbers else self.numbers[name]

    def _table(self, name: str, values: Sequence[int]) -> str:
        entries = ", ".join(map(number, values)) or "0"
        if name not in self._written:
            return f"static TABLE {self._width(name, values)} {name}[] = {{{entries}}};"
        lines = [f"static int32_t {name}[{max(1, len(values))}];"]
        if any(values):
            lines.append(f"static TABLE {self._width('', values)} {name}_begin[] = {{{entries}}};")
        return "\n".join(lines)

    def _width(self, name: str, values: Sequence[int]) -> str:
        """The narrowest type that holds a table; one that is handed to a function stays wide."""
        if name in self.passed:
            return "int32_t"
        low, high = min(values, default=0), max(values, default=0)
        return next((f"int{bits}_t" for bits in (8, 16) if -(1 << bits - 1) <= low and high < 1 << bits - 1), "int32_t")

    def _begin(self) -> str:
        lines = ["static void begin(void)", "{", "    int i;", "    (void)i;"]
        for name, values in self.tables.items():
            if name in self._written and name in self.used:
                value = f"{name}_begin[i]" if any(values) else "0"
                lines.append(f"    for (i = 0; i < {max(1, len(values))}; i++) {name}[i] = {value};")
        lines += [f"    {name} = {number(self.numbers[name])};" for name in self.state if name in self.used]
        return "\n".join([*lines, "}", ""])


def _function(text: str) -> ast.FunctionDef:
    node = parsed(text).body[0]
    assert isinstance(node, ast.FunctionDef)
    return node


def _step(number_: int, body: list[ast.stmt]) -> ast.FunctionDef:
    node = _function(f"def step{number_}(): pass")
    node.body = [*body, ast.Return(ast.Name("label", ast.Load()))]
    return node


