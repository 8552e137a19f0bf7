"""Strategies stepped over a run that is still growing: the very calls of a replay, on the very samples."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from telemetry.course import Course
from telemetry.palette import Palette
from telemetry.palette_default import default_palette, full_scale
from telemetry.palette_file import palette_text
from telemetry.reading.plan import make_plan
from telemetry.reading.strategy import Strategy
from telemetry.replay.header import palette_for, plan_for
from telemetry.replay.readings import Reading
from telemetry.replay.runner import Runner
from telemetry.sample import SampleTable


def check_strategies(strategies: Mapping[str, Strategy], course: Course) -> None:
    """Raise StrategyError before the run rather than during it."""
    for strategy in strategies.values():
        make_plan(strategy, course, default_palette(), ())


def looks_of(table: SampleTable, before: tuple[Any, ...] | None = None) -> tuple[Any, ...]:
    """What the built-in palette is fitted to: it is another one when this is no longer what it was ``before``."""
    tops: tuple[float, ...] = ()
    if before and table.first:
        tops = before[-1]  # the brightest samples may be forgotten by now
    elif not table.ranges:
        raw = [name for name in table.columns if name.split(".")[0] in {"red", "green", "blue"}]
        tops = tuple(full_scale(np.asarray(table.columns[name], dtype=np.float64)) for name in raw)
    return (table.colours, tuple(table.ranges.items()), tops)


@dataclass
class LiveReadings:
    """Gives each reading once, the moment it is made.

    ``palette`` stands in for ``written``, the text of one; without both it is the built-in one, fitted to the stream.
    Where that becomes another one, everything is read anew with it: a replay would use that one.
    """

    course: Course
    strategies: Mapping[str, Strategy]
    palette: Palette | None = None
    written: str = ""
    lacking: dict[str, str] = field(default_factory=dict)
    """Strategy -> what it needs and this run does not have (so far), in words; empty: nothing."""
    runners: dict[str, Runner] = field(default_factory=dict)
    _given: dict[str, int] = field(default_factory=dict)
    _palette: Palette | None = None
    _looks: tuple[Any, ...] | None = None

    def advance(self, table: SampleTable) -> list[tuple[str, Reading]]:
        """(strategy, reading) of every reading that is new."""
        if not table.rows:
            return []
        self._look(table)
        out = []
        for name, runner in self.runners.items():
            if self.lacking.get(name, "-"):
                self.lacking[name] = runner.lacks(table, going=True)
            if not self.lacking[name]:
                runner.advance(table)
                out += [(name, reading) for reading in self._fresh(name)]
        return out

    def finish(self, table: SampleTable) -> list[tuple[str, Reading]]:
        """What is decided at the end of the run."""
        out = self.advance(table)
        for name, runner in self.runners.items():
            self.lacking[name] = self.lacking[name] or runner.lacks(table)
            if not self.lacking[name]:
                runner.finish()
                out += [(name, reading) for reading in self._fresh(name)]
        return out

    def forget(self, before: int) -> None:
        """Rows before this one will not be asked for again."""
        for runner in self.runners.values():
            runner.forget(before)

    def _fresh(self, name: str) -> list[Reading]:
        readings = self.runners[name].readings
        new = readings[self._given.get(name, 0) :]
        self._given[name] = max(self._given.get(name, 0), len(readings))
        return new

    def _look(self, table: SampleTable) -> None:
        """Begin, and begin anew where the built-in palette would be another one by now."""
        looks = looks_of(table, self._looks) if self.palette is None and not self.written else ()
        if looks == self._looks:
            return
        self._looks = looks
        palette = palette_for(table, self.course, self.palette, self.written)
        if self._palette is not None and palette_text(palette) == palette_text(self._palette):
            return
        self._palette = palette
        for name, strategy in self.strategies.items():
            self.lacking.pop(name, None)
            self.runners[name] = Runner(plan_for(strategy, self.course, palette, table))
