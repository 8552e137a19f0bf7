"""Many settings over many runs in one compiled loop: the portable core's own source, settings as data.

What a setting changes are numbers and tables that the written-out loop takes as arguments (flat.py), so a thousand settings
are a thousand rows of one array and nothing is compiled again. Scoring is in the same loop: only what became of each run
comes back.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from telemetry.reading.chain import note_column
from telemetry.reading.compiled import PENDING, Start, function_of, starting
from telemetry.reading.flat import Shape, Writer
from telemetry.reading.made_apart import make_apart
from telemetry.reading.plan import Plan
from telemetry.sample import IntColumn, QuantizedColumns

RIGHT, ROW, SURPLUS, DIVERGES, OPEN = range(5)
"""Columns of what comes back of a run: slots read right, the row at which the last slot was decided (-1: one stayed open),
colours taken beyond the slots, 1 where the robot would be elsewhere, and a mask of the slots that are not right."""
MOST_SLOTS = 62
"""So many fit the mask."""

Int32 = NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class SweepSamples:
    """Runs of one kind laid end to end. ``columns``: int32, in the order of the shape's channels, then the notes.

    ``first`` (runs + 1,): where each begins. ``truth`` (runs, slots): the colour's number, 0 where nothing stands.
    """

    columns: tuple[Int32, ...]
    first: IntColumn
    truth: IntColumn

    @property
    def runs(self) -> int:
        """How many."""
        return len(self.first) - 1


@dataclass(frozen=True, slots=True)
class Steps:
    """One run as a sweep takes it: whole columns (one a sensor), notes by row, rows, and the true colour of each slot."""

    wholes: Sequence[QuantizedColumns]
    notes: Mapping[int, int]
    rows: int
    truth: Sequence[int]


@dataclass(frozen=True, slots=True)
class SweepSettings:
    """Settings as data, one row each: ``numbers``, and all ``tables`` end to end; ``ends``: where each of them ends."""

    numbers: IntColumn
    tables: IntColumn
    ends: IntColumn

    def part(self, first: int, stop: int) -> SweepSettings:
        """Only these rows."""
        return SweepSettings(self.numbers[first:stop], self.tables[first:stop], self.ends)


class Sweep:
    """A kind of plan made ready for many settings. Raises MissingPartError without numba, StrategyError as Compiled."""

    def __init__(self, plan: Plan) -> None:
        text, self.shape = Writer(plan.chains, plain=False, sweep=True).write()
        self.source = text + _many(self.shape)
        self._run = function_of(self.source, "many")

    def starts(self, plans: Sequence[Plan]) -> list[tuple[list[int], SweepSettings]]:
        """Plans of this kind ready to be stepped: bundles of those whose tables are equally long, with their places."""
        bundles: dict[tuple[int, ...], list[tuple[int, Start]]] = {}
        for place, plan in enumerate(plans):
            start = starting(plan, self.shape)
            bundles.setdefault(tuple(len(table) for table in start.tables), []).append((place, start))
        out = []
        for lengths, members in bundles.items():
            numbers = np.stack([start.numbers for _, start in members])
            spare = np.zeros(1, np.int64)
            tables = np.stack([np.concatenate([*start.tables, spare]) for _, start in members])
            ends = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64)
            out.append(([place for place, _ in members], SweepSettings(numbers, tables, ends)))
        return out

    def samples(self, runs: Sequence[Steps]) -> SweepSamples:
        """Runs of one kind laid end to end."""
        columns = [
            np.concatenate([getattr(run.wholes[sensor], name) for run in runs]).astype(np.int32)
            for sensor, name in self.shape.channels
        ]
        columns.append(np.concatenate([np.array(note_column(run.notes, 0, run.rows), dtype=np.int32) for run in runs]))
        truth = np.array([list(run.truth) for run in runs], dtype=np.int64).reshape(len(runs), -1)
        first = np.concatenate([[0], np.cumsum([run.rows for run in runs])]).astype(np.int64)
        return SweepSamples(tuple(columns), first, truth)

    def make_ready(self, samples: SweepSamples, settings: SweepSettings, waiting: Callable[[], None]) -> None:
        """Have the machine code made by another process where it is not there yet: that takes seconds (made_apart.py)."""
        make_apart(self.source, "many", self._arrays(samples, settings.part(0, 1)), waiting)

    def over(self, samples: SweepSamples, settings: SweepSettings) -> IntColumn:
        """(runs, settings, 5), see RIGHT...; without the interpreter's lock, so threads may share the work."""
        arrays = self._arrays(samples, settings)
        self._run(*arrays)
        return arrays[-1]

    def _arrays(self, samples: SweepSamples, settings: SweepSettings) -> list[NDArray[Any]]:
        """What the compiled function takes; the last is filled by it."""
        out = np.empty((samples.runs, len(settings.numbers), 5), dtype=np.int64)
        longest = int(np.diff(samples.first).max(initial=0))
        sensors = 1 + max((sensor for sensor, _ in self.shape.channels), default=0)
        events = np.empty((longest * sensors + PENDING, 3), dtype=np.int64)  # a step brings one a sensor at the most
        found = (samples.first, samples.truth, settings.numbers, settings.tables, settings.ends, events, out)
        return [*samples.columns, *found]


def _many(shape: Shape) -> str:
    """The text of ``many``: all runs with all settings, scored as ``score`` does it slot by slot."""
    columns = "".join(f"c{k}, " for k in range(len(shape.channels) + 1))
    views = "".join(f"\n    table{k} = work[ends[{k}]:ends[{k + 1}]]" for k in range(len(shape.tables)))
    tables = "".join(f"table{k}, " for k in range(len(shape.tables)))
    return _MANY.replace("COLUMNS, ", columns).replace("\n    VIEWS", views).replace("TABLES, ", tables)


_MANY = """
@jit
def many(COLUMNS, first, truth, numbers, tables, ends, events, out):
    work = tables[0].copy()
    VIEWS
    slots = truth.shape[1]
    got = truth[0].copy()
    at = truth[0].copy()
    for r in range(len(first) - 1):
        for s in range(len(numbers)):
            for k in range(len(work)):
                work[k] = tables[s, k]
            count = run(first[r], first[r + 1], COLUMNS, numbers[s], TABLES, events)
            for k in range(slots):
                got[k] = 0
                at[k] = -1
            surplus = 0
            diverges = 0
            for k in range(count):
                event = events[k, 2]
                slot = ((event >> 8) & 255) - 1
                if slot >= 0:
                    got[slot] = event & 31
                    at[slot] = min(events[k, 0], first[r + 1] - 1) - first[r]
                elif (event >> 5) & 7 == 3:
                    diverges = 1
                    break
                else:
                    surplus += 1
            right = 0
            last = 0
            open_slots = 0
            for k in range(slots):
                if got[k] == truth[r, k]:
                    right += 1
                else:
                    open_slots |= 1 << k
                if at[k] < 0:
                    last = -1
                elif last >= 0 and at[k] > last:
                    last = at[k]
            out[r, s, 0] = right
            out[r, s, 1] = last
            out[r, s, 2] = surplus
            out[r, s, 3] = diverges
            out[r, s, 4] = open_slots
"""
