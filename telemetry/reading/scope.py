"""Whose numbers and tables: a stage, or one of the parts that it owns."""

from __future__ import annotations

import ast
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NoReturn

from telemetry.errors import StrategyError


@dataclass(frozen=True, slots=True)
class Scope:
    """An object that keeps numbers. ``prefix`` goes before their names; ``tables``: attribute -> that list's variable."""

    owner: Any
    prefix: str
    tables: Mapping[str, str]

    @property
    def numbers(self) -> list[str]:
        """The attributes that are numbers."""
        return [name for name, value in vars(self.owner).items() if isinstance(value, int)]

    def of_file(self, name: str) -> Any:
        """What ``name`` stands for in the file of the owner's class; None where it stands for nothing."""
        return getattr(sys.modules[type(self.owner).__module__], name, None)


def parts_of(owner: object) -> list[Any]:
    """The parts that a stage or a part owns: the objects with numbers of their own that are reset with it."""
    return [value for value in vars(owner).values() if hasattr(value, "reset") and hasattr(value, "__dict__")]


def refuse(scope: Scope, node: ast.AST, rule: str) -> NoReturn:
    """A rule of the portable core was broken."""
    cls = type(scope.owner)
    raise StrategyError(
        rule,
        where=f"{cls.__module__}.{cls.__name__}, line {getattr(node, 'lineno', 0)} of the class",
        todo="The rules for stages are in DEVELOPERS.md.",
    )
