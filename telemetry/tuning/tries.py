"""One strategy on the same runs at any settings."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from telemetry.reading.strategy import Strategy
from telemetry.sample import IntColumn
from telemetry.tuning.evaluate import Outcomes, SettingsSweep
from telemetry.tuning.runs import SavedRun
from telemetry.tuning.space import Axis, Point, at

Progress = Callable[[str, int, int], None]
"""Told what is being done, how much of it is done, and of how much. May raise to cancel."""


@dataclass(frozen=True, slots=True)
class Tries:
    """``tell`` follows what is asked of it; of one setting alone ``most`` values are tried."""

    judge: SettingsSweep
    runs: Sequence[SavedRun]
    strategy: Strategy
    tell: Progress
    most: int = 400

    def outcomes(self, points: Sequence[Point], what: str = "") -> Outcomes:
        """Every run at every point. ``what``: said while it lasts."""
        strategies = [at(self.strategy, point) for point in points]
        count = len(self.runs)
        return self.judge.outcomes(self.runs, strategies, (lambda done: self.tell(what, done, count)) if what else None)

    def right(self, points: Sequence[Point]) -> IntColumn:
        """How many runs are right at each point."""
        total: IntColumn = self.outcomes(points).right.sum(axis=0)
        return total

    def span(self, here: Point, axis: Axis, least: int) -> tuple[int, int]:
        """The values of one setting around ``here`` at which at least ``least`` runs are right."""
        start, stop = axis.values[0], axis.values[-1]
        values = sorted({*range(start, stop + 1, max(1, (stop - start) // self.most)), here[axis.name]})
        good = self.right([{**here, axis.name: value} for value in values]) >= least
        low = high = values.index(here[axis.name])
        while low > 0 and good[low - 1]:
            low -= 1
        while high + 1 < len(values) and good[high + 1]:
            high += 1
        return values[low], values[high]

    def middle(self, place: Point, axes: Sequence[Axis], least: int) -> tuple[Point, dict[str, tuple[int, int]]]:
        """Each setting moved to the middle of the values around ``place`` that work, one after the other; and their spans.

        Where they work up to the end of what is tried there is no middle: the setting stays unless it is near the other end.
        """
        here = dict(place)
        for axis in axes:
            low, high = self.span(here, axis, least)
            room = min(
                here[axis.name] - low if axis.values[0] < low else high - low,
                high - here[axis.name] if high < axis.values[-1] else high - low,
            )
            closed = axis.values[0] < low and high < axis.values[-1]
            if not axis.is_switch and (closed or room * 4 < high - low):
                here[axis.name] = (low + high) // 2
        return here, self.spans(here, axes, least)

    def spans(self, here: Point, axes: Sequence[Axis], least: int) -> dict[str, tuple[int, int]]:
        """Of each setting the values around ``here`` that work, the others left."""
        return {axis.name: self.span(here, axis, least) for axis in axes}
