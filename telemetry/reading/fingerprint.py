"""A short number for exactly what a strategy, a course and a palette make of a run: the same logic, the same number."""

from __future__ import annotations

import ast
import hashlib
from functools import cache
from typing import Any, Final

from telemetry.errors import StrategyError
from telemetry.given_file import given_bytes
from telemetry.reading.own import OwnStage
from telemetry.reading.plan import Plan
from telemetry.reading.syntax import class_tree, parsed, without_words

DIGITS: Final = 8
"""Hexadecimal digits: one in four thousand million that two logics share a number."""


def fingerprint(plan: Plan) -> str:
    """Eight hexadecimal digits over the stages' source and numbers, the slots' and colours' names, and the notes.

    What changes no step changes no digit: titles, comments, a palette that no stage asks, further colours of a stream.
    """
    parts: list[object] = [
        tuple(slot.name for slot in plan.course.slots), plan.names[: 1 + len(plan.course.colours)],
        sorted(plan.notes.items()), tuple(sensor.name for sensor in plan.course.sensors),
    ]  # fmt: skip
    for recipe, chain in zip(plan.recipes, plan.chains, strict=True):
        for (name, _, arguments), stage in zip(recipe, chain.stages, strict=True):
            source = _own_source(plan) if isinstance(stage, OwnStage) else _source(type(stage))  # type: ignore[arg-type]
            parts.append(("own" if isinstance(stage, OwnStage) else name, source, [_plain(value) for value in arguments]))
    return hashlib.sha256(repr(parts).encode()).hexdigest()[:DIGITS]


def arguments_of(part: Any) -> list[Any]:
    """What a part of a stage was made with: it keeps that under its parameters' names."""
    code = type(part).__init__.__code__
    return [getattr(part, name) for name in code.co_varnames[1 : code.co_argcount]]


def _plain(value: Any) -> object:
    """A number or table as it is, a part as its source and what it was made with."""
    if isinstance(value, int | list):
        return value
    cls: Any = type(value)
    return (_source(cls), [_plain(one) for one in arguments_of(value)])


@cache
def _source(cls: type[Any]) -> str:
    # Written out anew rather than as a tree: what a tree is made of differs from one Python to the next.
    return ast.unparse(without_words(class_tree(cls)))  # type: ignore[arg-type]


def _own_source(plan: Plan) -> str:
    from pathlib import Path

    try:
        return ast.unparse(without_words(parsed(given_bytes(Path(plan.strategy.own_file), StrategyError))))
    except (ValueError, SyntaxError) as error:
        raise StrategyError(f"it cannot be read ({error})", where=plan.strategy.own_file, todo="Check the file.") from error
