"""One sensor's stages in a row, stepped in plain CPython: live view and replay of a single run."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final, NamedTuple

from telemetry.reading.portable.moment import Moment
from telemetry.sample import MISSING, QuantizedColumns

READ, INFERRED, ASSUMED, ELSEWHERE = range(4)
HOWS: Final = ("read", "inferred", "assumed", "elsewhere")


class Decision(NamedTuple):
    """An event in words. ``slot`` None: taken beyond the slots. ``how`` ELSEWHERE: the robot would be elsewhere from now.

    ``colour`` is an index into the plan's names; 0 with a slot: nothing stands there. ``sure``: 1/10000, 0 not said.
    """

    slot: int | None
    how: int
    colour: int
    sure: int = 0


def decode(event: int) -> Decision:
    """What an event of the ledger says."""
    slot = ((event >> 8) & 255) - 1
    return Decision(slot if slot >= 0 else None, (event >> 5) & 7, event & 31, event >> 16)


class Chain:
    """Stage objects, the first a Track, the last the Ledger, and the moment they share.

    ``names``: the catalogue's name of each stage; 'track' and 'ledger' for the two at the ends.
    """

    def __init__(self, sensor: int, stages: Sequence[Any], names: Sequence[str]) -> None:
        self.sensor = sensor
        self.stages = tuple(stages)
        self.names = tuple(names)
        self.moment: Any = Moment()  # type: ignore[no-untyped-call]
        self._steps = tuple(stage.step for stage in self.stages)
        self.owners: tuple[Any, ...] | None = None
        self.kind: Any = None
        """What flat.py has found out about this chain, kept because it is asked for at every run."""

    def reset(self) -> None:
        """Back to before the first sample; the moment too."""
        for stage in self.stages:
            stage.reset()
        self.moment.__init__()

    def run(self, whole: QuantizedColumns, notes: Mapping[int, int], start: int, stop: int) -> list[tuple[int, int]]:
        """Step the rows ``start`` to ``stop`` (not included); ``notes``: row -> number. Gives (row, event) of each event."""
        m = self.moment
        steps = self._steps
        events = []
        rows = zip(*_lists(whole, start, stop), note_column(notes, start, stop), strict=True)
        row = start
        for m.t, m.d, m.v, m.h, m.refl, m.red, m.green, m.blue, m.code, m.note in rows:
            label = -1
            for step in steps:
                label = step(label, m)
            if label:
                events.append((row, label))
            row += 1
        return events

    def trace(
        self, whole: QuantizedColumns, notes: Mapping[int, int], start: int, stop: int
    ) -> tuple[list[tuple[int, int]], list[tuple[int, ...]], list[tuple[int, int, int]]]:
        """As ``run``, and for each row the labels after each stage (the last is the event) and (leg, pos, slot)."""
        m = self.moment
        events, labels, places = [], [], []
        rows = zip(*_lists(whole, start, stop), note_column(notes, start, stop), strict=True)
        row = start
        for m.t, m.d, m.v, m.h, m.refl, m.red, m.green, m.blue, m.code, m.note in rows:
            seen = []
            label = -1
            for step in self._steps:
                label = step(label, m)
                seen.append(label)
            if label:
                events.append((row, label))
            labels.append(tuple(seen))
            places.append((m.leg, m.pos, m.slot))
            row += 1
        return events, labels, places

    def end(self, phase: int) -> int:
        """One step with ``m.end`` = ``phase`` (1, then 2); the event. To be repeated until two zeros in a row came."""
        m = self.moment
        m.d = m.v = m.h = m.refl = m.red = m.green = m.blue = m.code = MISSING
        m.note = 0
        m.end = phase
        label = -1
        for step in self._steps:
            label = step(label, m)
        return label


def _lists(whole: QuantizedColumns, start: int, stop: int) -> list[list[int]]:
    columns = (whole.t, whole.d, whole.v, whole.h, whole.refl, whole.red, whole.green, whole.blue, whole.code)
    return [column[start:stop].tolist() for column in columns]


def note_column(notes: Mapping[int, int], start: int, stop: int) -> list[int]:
    """Row -> the number of its note, 0 where there is none, for the rows ``start`` to ``stop``."""
    column = [0] * (stop - start)
    for row, number in notes.items():
        if start <= row < stop:
            column[row - start] = number
    return column
