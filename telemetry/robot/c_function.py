"""One function of written-out Python as one of C99."""

from __future__ import annotations

import ast
from collections.abc import Callable, Mapping, Sequence
from typing import NoReturn, Protocol

from telemetry.errors import StrategyError
from telemetry.reading.syntax import loaded
from telemetry.robot.c_settle import without_unread

_OPERATORS: Mapping[type[ast.AST], str] = {
    ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.BitAnd: "&", ast.BitOr: "|", ast.BitXor: "^",
    ast.Eq: "==", ast.NotEq: "!=", ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=",
    ast.Invert: "~", ast.USub: "-", ast.UAdd: "+", ast.Not: "!",
}  # fmt: skip
_CALLED: Mapping[type[ast.AST], str] = {
    ast.FloorDiv: "floor_div", ast.Mod: "floor_mod", ast.LShift: "shift_left", ast.RShift: "shift_right",
}  # fmt: skip


class HostFile(Protocol):
    """What a function asks of the file that it stands in, and tells it (see c_code.CFile)."""

    numbers: Mapping[str, int]
    tables: Mapping[str, Sequence[int]]
    functions: dict[str, ast.FunctionDef]
    used: set[str]
    passed: set[str]
    called: set[str]

    def constant(self, name: str) -> int | None: ...


class Function:
    """One function of Python as one of C."""

    def __init__(self, unit: HostFile, node: ast.FunctionDef) -> None:
        self.unit = unit
        self.node = node
        self.parameters = [arg.arg for arg in node.args.args if not self._shared(arg.arg)]
        found = list(ast.walk(node))
        self.pointers = {one.value.id for one in found if isinstance(one, ast.Subscript) and isinstance(one.value, ast.Name)}
        self.pointers &= set(self.parameters)
        returns = [one.value for one in found if isinstance(one, ast.Return)]
        self.returns = [_first(value, self._shared) for value in returns]
        self.valued = any(value is not None for value in self.returns)
        self.spans = 0

    def _shared(self, name: str) -> bool:
        return name in self.unit.numbers or name in self.unit.tables

    def head(self) -> str:
        kinds = [
            f"const int32_t *{self.local(name)}" if name in self.pointers else f"int32_t {self.local(name)}"
            for name in self.parameters
        ]
        kind = "int32_t" if self.valued else "void"
        return f"static {kind} {self.node.name}({', '.join(kinds) or 'void'})"

    def text(self) -> str:
        body = without_unread(self.node.body, lambda name: not self._shared(name) and name not in self.parameters)
        self.read = {
            one.id for statement in body for one in ast.walk(statement)
            if isinstance(one, ast.Name) and isinstance(one.ctx, ast.Load)
        }  # fmt: skip
        stored = dict.fromkeys(
            one.id for statement in body for one in ast.walk(statement)
            if isinstance(one, ast.Name) and isinstance(one.ctx, ast.Store)
        )  # fmt: skip
        locals_ = [n for n in stored if not self._shared(n) and n not in self.parameters and n in self.read]
        lines = [f"    int32_t {self.local(name)} = 0;" for name in locals_]
        lines += [f"    (void){self.local(name)};" for name in self.parameters if name not in self.read]
        lines += self.block(body, 1)
        return "\n".join([self.head(), "{", *lines, "}", ""])

    def local(self, name: str) -> str:
        """A local name that is none of C's words."""
        return f"v_{name}"

    def block(self, body: Sequence[ast.stmt], depth: int) -> list[str]:
        return [line for statement in body for line in self.statement(statement, depth)]

    def statement(self, node: ast.stmt, depth: int) -> list[str]:
        pad = "    " * depth
        if isinstance(node, ast.Pass):
            return []
        if isinstance(node, ast.Break | ast.Continue):
            return [f"{pad}{type(node).__name__.lower()};"]
        if isinstance(node, ast.Expr):
            return [f"{pad}{self.value(node.value)};"] if isinstance(node.value, ast.Call) else []
        if isinstance(node, ast.Return):
            value = _first(node.value, self._shared)
            return [f"{pad}return {bare(self.value(value))};" if value is not None else f"{pad}return;"]
        if isinstance(node, ast.AugAssign):
            return self.statement(ast.Assign([node.target], ast.BinOp(loaded(node.target), node.op, node.value)), depth)
        if isinstance(node, ast.Assign):
            return [pad + self._assign(node.targets[0], node.value)]
        if isinstance(node, ast.If):
            return self._if(node, depth)
        if isinstance(node, ast.While):
            test = node.test
            head = "for (;;)" if isinstance(test, ast.Constant) and test.value else f"while ({bare(self.value(test))})"
            return [f"{pad}{head} {{", *self.block(node.body, depth + 1), f"{pad}}}"]
        if isinstance(node, ast.For):
            return self._for(node, depth)
        return self.refuse(node)

    def _assign(self, target: ast.expr, value: ast.expr) -> str:
        if isinstance(target, ast.Tuple):
            # What a function changes beside what it returns is shared with it here.
            first = target.elts[0]
            assert isinstance(first, ast.Name)
            if not self._is_valued(value):
                return f"{self.value(value)};"
            unread = not self._shared(first.id) and first.id not in self.read
            return f"(void){self.value(value)};" if unread else f"{self.name(first.id)} = {self.value(value)};"
        return f"{self.value(target)} = {bare(self.value(value))};"

    def _is_valued(self, value: ast.expr) -> bool:
        if not (isinstance(value, ast.Call) and isinstance(value.func, ast.Name)):
            return True
        known = self.unit.functions.get(value.func.id)
        return known is None or Function(self.unit, known).valued

    def _if(self, node: ast.If, depth: int) -> list[str]:
        pad = "    " * depth
        lines = [f"{pad}if ({bare(self.value(node.test))}) {{", *self.block(node.body, depth + 1)]
        if node.orelse:
            lines += [f"{pad}}} else {{", *self.block(node.orelse, depth + 1)]
        return [*lines, f"{pad}}}"]

    def _for(self, node: ast.For, depth: int) -> list[str]:
        assert isinstance(node.iter, ast.Call)
        assert isinstance(node.target, ast.Name)
        pad = "    " * depth
        given = node.iter.args
        start = ast.Constant(0) if len(given) == 1 else given[0]
        stop = given[0] if len(given) == 1 else given[1]
        step = 1
        if len(given) == 3:
            third = given[2]
            if not isinstance(third, ast.Constant) or type(third.value) is not int or not third.value:
                raise self.refusal(node)
            step = third.value
        self.spans += 1
        i, end = f"i{self.spans}", f"end{self.spans}"
        lines = [f"{pad}{{", f"{pad}    const int32_t {end} = {bare(self.value(stop))};"]
        turn = f"{i} += {step}" if step > 0 else f"{i} -= {-step}"
        compare = "<" if step > 0 else ">"
        lines.append(f"{pad}    for (int32_t {i} = {bare(self.value(start))}; {i} {compare} {end}; {turn}) {{")
        if self._shared(node.target.id) or node.target.id in self.read:
            lines.append(f"{pad}        {self.name(node.target.id)} = {i};")
        return [*lines, *self.block(node.body, depth + 2), f"{pad}    }}", f"{pad}}}"]

    def value(self, node: ast.expr) -> str:
        """An expression; with brackets around it where it is made of several."""
        if isinstance(node, ast.Constant):
            return number(int(node.value))  # type: ignore[arg-type]
        if isinstance(node, ast.Name):
            return self.name(node.id)
        if isinstance(node, ast.Subscript):
            written = isinstance(node.ctx, ast.Store) and isinstance(node.value, ast.Name)
            return self.refuse(node) if written and node.value.id in self.pointers else self._entry(node)  # type: ignore[attr-defined]
        if isinstance(node, ast.BinOp):
            left, right = self.value(node.left), self.value(node.right)
            called = _CALLED.get(type(node.op))
            if called:
                return self._use(called, left, right)
            return f"({left} {_OPERATORS[type(node.op)]} {right})"
        if isinstance(node, ast.UnaryOp):
            return f"({_OPERATORS[type(node.op)]}{self.value(node.operand)})"
        if isinstance(node, ast.Compare):
            sides = [self.value(one) for one in (node.left, *node.comparators)]
            each = [f"({a} {_OPERATORS[type(op)]} {b})" for a, op, b in zip(sides[:-1], node.ops, sides[1:], strict=True)]
            return each[0] if len(each) == 1 else f"({' && '.join(each)})"
        if isinstance(node, ast.BoolOp):
            return self._bool(node)
        if isinstance(node, ast.IfExp):
            return f"({self.value(node.test)} ? {self.value(node.body)} : {self.value(node.orelse)})"
        if isinstance(node, ast.Call):
            return self._call(node)
        return self.refuse(node)

    def _bool(self, node: ast.BoolOp) -> str:
        # As a truth: the core never uses 'a or b' for the number a or b (the checks hold it).
        joint = " && " if isinstance(node.op, ast.And) else " || "
        return f"({joint.join(self.value(one) for one in node.values)})"

    def _entry(self, node: ast.Subscript) -> str:
        assert isinstance(node.value, ast.Name)
        table = self.name(node.value.id)
        place: ast.expr = node.slice
        index = bare(self.value(place))
        if isinstance(place, ast.Constant) and isinstance(place.value, int) and place.value < 0:
            index = number(place.value + len(self.unit.tables[node.value.id]))
        if node.value.id in self.unit.tables and not isinstance(node.slice, ast.Constant):
            # Below 0 Python counts from the end: the core's tables have their entry for 'no slot' there.
            index = self._use("entry", index, number(len(self.unit.tables[node.value.id])))
        found = f"{table}[{index}]"
        return found if isinstance(node.ctx, ast.Store) else f"((int32_t){found})"

    def _use(self, helper: str, *values: str) -> str:
        self.unit.used.add(helper)
        return f"{helper}({', '.join(map(bare, values))})"

    def _call(self, node: ast.Call) -> str:
        assert isinstance(node.func, ast.Name)
        name = node.func.id
        if name == "len":
            table = node.args[0]
            if isinstance(table, ast.Name) and table.id in self.unit.tables:
                return number(len(self.unit.tables[table.id]))
            return self.refuse(node)
        if name == "abs":
            inner = self.value(node.args[0])
            self.unit.used.add("magnitude")
            return f"magnitude({bare(inner)})"
        if name in {"min", "max"}:
            values = [self.value(one) for one in node.args]
            while len(values) > 1:
                values[:2] = [self._use("lesser" if name == "min" else "greater", values[0], values[1])]
            return values[0]
        known = self.unit.functions.get(name)
        if known is None:
            return self.refuse(node)
        self.unit.called.add(name)
        target = Function(self.unit, known)
        given = []
        for arg, value in zip(known.args.args, node.args, strict=True):
            if arg.arg in target.parameters:
                given.append(bare(self.value(value)))
                if isinstance(value, ast.Name) and value.id in self.unit.tables:
                    self.unit.passed.add(value.id)
        return f"{name}({', '.join(given)})"

    def name(self, name: str) -> str:
        """A number, table or local variable."""
        if self._shared(name):
            self.unit.used.add(name)
            return name
        return self.local(name)

    def refuse(self, node: ast.AST) -> NoReturn:
        raise self.refusal(node)

    def refusal(self, node: ast.AST) -> StrategyError:
        """What to say about a piece of source that has no form in C."""
        return StrategyError(
            f"'{ast.unparse(node)[:60]}' cannot be put into C", where=self.node.name, todo="Use MicroPython, or report it."
        )


def number(value: int) -> str:
    """A whole number of 32 bits on every compiler, 8-bit boards' too."""
    if value < 0:
        return f"(-INT32_C({-value}))" if value < -32767 else f"({value})"
    return f"INT32_C({value})" if value > 32767 else str(value)


def bare(text: str) -> str:
    """Without the brackets around the whole."""
    if not (text.startswith("(") and text.endswith(")")):
        return text
    depth = 0
    for k, char in enumerate(text):
        depth += (char == "(") - (char == ")")
        if depth == 0 and k < len(text) - 1:
            return text
    return text[1:-1]


def _first(value: ast.expr | None, shared: Callable[[str], bool]) -> ast.expr | None:
    """What a return gives beside the numbers that all functions share; None where it gives nothing else."""
    if isinstance(value, ast.Tuple):
        first = value.elts[0]
        return None if isinstance(first, ast.Name) and shared(first.id) else first
    return value


