"""What is known before C is written: numbers that no step changes are put in, what is never reached or read is left out."""

from __future__ import annotations

import ast
from collections.abc import Callable, Sequence

from telemetry.reading.syntax import folded


class Constants(ast.NodeTransformer):
    """Puts in what no step changes, and works out what is known then."""

    def __init__(self, constant: Callable[[str], int | None]) -> None:
        self.constant = constant

    def visit_Name(self, node: ast.Name) -> ast.expr:
        value = self.constant(node.id) if isinstance(node.ctx, ast.Load) else None
        return node if value is None else ast.Constant(value)

    def generic_visit(self, node: ast.AST) -> ast.AST:
        node = super().generic_visit(node)
        return folded(node) if isinstance(node, ast.BinOp | ast.UnaryOp | ast.Compare | ast.BoolOp) else node

    def visit_IfExp(self, node: ast.IfExp) -> ast.AST:
        super().generic_visit(node)
        if isinstance(node.test, ast.Constant):
            return node.body if node.test.value else node.orelse
        return node

    def visit_If(self, node: ast.If) -> ast.AST | list[ast.stmt]:
        node.test = self.visit(node.test)
        node.body, node.orelse = self.block(node.body), self.block(node.orelse) if node.orelse else []
        if isinstance(node.test, ast.Constant):
            return (node.body if node.test.value else node.orelse) or ast.Pass()
        return node

    def block(self, body: Sequence[ast.stmt]) -> list[ast.stmt]:
        """Statements with all that is known put in, and what is never reached left out."""
        out: list[ast.stmt] = []
        for statement in body:
            new = self.visit(statement)
            out += new if isinstance(new, list) else [new]
            if isinstance(out[-1], ast.Break | ast.Continue | ast.Return):
                break
        return out or [ast.Pass()]

    def visit_While(self, node: ast.While) -> ast.AST:
        node.test, node.body = self.visit(node.test), self.block(node.body)
        return node

    def visit_For(self, node: ast.For) -> ast.AST:
        node.iter, node.body = self.visit(node.iter), self.block(node.body)
        return node


def without_unread(body: list[ast.stmt], mine: Callable[[str], bool]) -> list[ast.stmt]:
    """Local variables that nobody reads are not set."""
    while True:
        found = [one for statement in body for one in ast.walk(statement) if isinstance(one, ast.Name)]
        read = {one.id for one in found if isinstance(one.ctx, ast.Load)}
        dropped = _Unread(read, mine)
        body = [new for statement in body for new in _listed(dropped.visit(statement))]
        if not dropped.any:
            return body


def _listed(node: object) -> list[ast.stmt]:
    return [] if node is None else [node]  # type: ignore[list-item]


class _Unread(ast.NodeTransformer):
    def __init__(self, read: set[str], mine: Callable[[str], bool]) -> None:
        self.read, self.mine, self.any = read, mine, False

    def visit_Assign(self, node: ast.Assign) -> ast.stmt | None:
        target = node.targets[0]
        if isinstance(target, ast.Name) and target.id not in self.read and self.mine(target.id):
            self.any = True
            calls = any(isinstance(one, ast.Call) and isinstance(one.func, ast.Name) for one in ast.walk(node.value))
            return ast.Expr(node.value) if calls and isinstance(node.value, ast.Call) else None
        return node
