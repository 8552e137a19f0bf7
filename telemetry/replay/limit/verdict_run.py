"""The verdict on one compared run: only worked out where some strategy misread it, and cheaply where it can be."""

from __future__ import annotations

from collections.abc import Sequence

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


def verdict_of(
    results: Sequence[Result], table: Table, course: Course, palette: Palette, *, shelf: PlanShelf, shared: Shared
) -> Verdict | None:
    """The verdict on a run of which some of the ``results`` are wrong; None where none is, or the truth is not known."""
    if not any(result.was_wrong for result in results):
        return None
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
