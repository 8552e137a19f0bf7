"""The verdict on one compared run: only worked out where some strategy misread it, and cheaply where it can be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from telemetry.course import Course
from telemetry.palette import Palette
from telemetry.reading.strategies import evidence
from telemetry.reading.strategy import Strategy
from telemetry.replay.header import PlanShelf
from telemetry.replay.limit.verdict import PROBABLE, Verdict, read_by, verdict
from telemetry.replay.readings import Taken
from telemetry.replay.runner import Runner, Shared
from telemetry.replay.scoring.results import Result
from telemetry.replay.scoring.score import Outcome
from telemetry.sample import Table

OTHERS: tuple[Strategy, ...] = (
    evidence.STRATEGY,
    evidence.STRATEGY.override("gather.wrong_pct=20", "gather.off_mm=100"),
    evidence.STRATEGY.override("decide.own_pct=8", "decide.loose_pct=20"),
)
"""Tried, in this order, where none of the compared strategies reads a run right."""


def with_verdict(
    results: Sequence[Result], table: Table, course: Course, palette: Palette, *, shelf: PlanShelf, shared: Shared
) -> list[Result]:
    """The results of one run, those that misread it with the verdict."""
    truth = results[0].run.truth if results else None
    if truth is None or not any(result.outcome is Outcome.WRONG for result in results):
        return list(results)
    found = _verdict(results, table, course, palette, shelf=shelf, shared=shared)
    return [replace(result, verdict=found) if result.outcome is Outcome.WRONG else result for result in results]


def _verdict(
    results: Sequence[Result], table: Table, course: Course, palette: Palette, *, shelf: PlanShelf, shared: Shared
) -> Verdict:
    truth = results[0].run.truth or ()
    right = [result for result in results if result.outcome is Outcome.RIGHT]
    names = [result.strategy for result in right]
    if any(_sure(result.taken) for result in right):
        return read_by(names)
    setting = ""
    if not right:
        for other in OTHERS:
            runner = Runner(shelf.plan(other, course, palette, table), shared)
            runner.advance(table)
            runner.finish()
            if tuple(reading.colour for reading in runner.taken.slots) == truth:
                setting = _spelt(other)
                if _sure(runner.taken):
                    return read_by([setting])
                break
    return verdict(table, course, palette, truth, right=names, setting=setting)


def _sure(taken: Taken) -> bool:
    """Whether a reading knows how sure it is, and is."""
    told = [reading.confidence for reading in taken.slots if reading.colour is not None]
    return bool(told) and min(value or 0.0 for value in told) >= PROBABLE


def _spelt(strategy: Strategy) -> str:
    """A strategy as the command line takes it."""
    words = [f"{use.stage}.{key}={value}" for use in strategy.uses for key, value in use.settings.items()]
    return f"evidence:{','.join(words)}" if words else "evidence"
