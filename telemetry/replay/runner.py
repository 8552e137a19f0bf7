"""The one way a strategy is stepped: over a recording, and over a run that is still growing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from telemetry.course import Course
from telemetry.reading.chain import ELSEWHERE, decode
from telemetry.reading.compiled import Traces
from telemetry.reading.needs import channels_of, run_has
from telemetry.reading.plan import Plan, make_plan
from telemetry.replay.header import usable_columns
from telemetry.replay.readings import HOW, READ, Reading, Taken, taken_from
from telemetry.replay.walk import Walk
from telemetry.sample import STEPPED, IntColumn, QuantizedColumns, SampleTable, whole_columns

STEP_ROWS = 1 << 17
"""So many rows are stepped at once: of a run of hours only these are there as whole numbers."""
STATELESS_LABELS = frozenset({"code", "nearest"})


@dataclass
class Stretch:
    """What lies between two restarts of the robot: rows ``start`` to ``stop``, and what was decided in them."""

    start: int
    stop: int
    readings: list[Reading] = field(default_factory=list)
    diverges: int | None = None
    """The row from which the robot would be elsewhere; None: nowhere."""
    stop_cm: float | None = None
    """Where along the leg it would stand instead; None where that is not known."""


class Shared:
    """What all strategies of one finished run have in common, worked out once: whole numbers and places.

    ``traced``: why it was read so will be asked, so what each stage said is kept where that costs next to nothing.
    """

    def __init__(self, *, traced: bool = False) -> None:
        self.traced = traced
        self._wholes: dict[tuple[str, tuple[str, ...], int, int], QuantizedColumns] = {}
        self.seen: dict[tuple[int, str, tuple[tuple[str, int], ...]], IntColumn] = {}
        self.walked: dict[tuple[int, int, int], tuple[IntColumn, IntColumn]] = {}
        self.inside: dict[tuple[int, int, float, float, int, int], IntColumn] = {}
        self.placed: dict[tuple[int, int, int], bool] = {}
        self._walk: Walk | None = None
        self._spans: dict[tuple[int, int], list[tuple[int, int]]] = {}
        self._columns: tuple[SampleTable, Course, tuple[tuple[str, ...], bool]] | None = None

    def usable_columns(self, table: SampleTable, course: Course) -> tuple[tuple[str, ...], bool]:
        """As header.usable_columns."""
        if self._columns is None or self._columns[0] is not table or self._columns[1] is not course:
            self._columns = table, course, usable_columns(table, course)
        return self._columns[2]

    def whole(self, table: SampleTable, sensor: str, names: tuple[str, ...], start: int, stop: int) -> QuantizedColumns:
        """The whole numbers of a stretch for one sensor; those of a long run are not kept."""
        if table.rows > STEP_ROWS:
            return _whole(table, sensor, names, start, stop)
        key = (sensor, names, start, stop)
        if key not in self._wholes:
            self._wholes[key] = _whole(table, sensor, names, start, stop)
        return self._wholes[key]

    def spans(self, boots: NDArray[np.generic], start: int) -> list[tuple[int, int]]:
        """As ``between_restarts``, of the rows from ``start`` on."""
        key = start, len(boots)
        if key not in self._spans:
            self._spans[key] = list(between_restarts(boots))
        return self._spans[key]

    def walk(self, plan: Plan) -> Walk:
        """The walk that all strategies share: every strategy on one course has the same."""
        if self._walk is None:
            self._walk = Walk(plan)
        return self._walk


class Runner:
    """Steps a plan over the rows of a table that it has not stepped yet; live and replay are the same calls.

    ``readings``: everything decided so far, in the order of deciding. A restart of the robot begins a new stretch, in
    which every slot is open again; ``taken`` is the state of the stretch that counts (the longest, of equals the later).
    Where a header in mid-run brings columns or colours that the plan does not know, the plan is made anew and stepped again
    from the first row that the table still has; ``advance`` still gives each reading once.
    """

    def __init__(self, plan: Plan, shared: Shared | None = None) -> None:
        self._shared = shared
        self._given = 0
        self._header: tuple[tuple[str, ...], tuple[str, ...]] | None = None
        self._begin(plan)

    def _begin(self, plan: Plan) -> None:
        self.plan = plan
        self.readings: list[Reading] = []
        self.stretches = [Stretch(0, 0)]
        self.standing: list[tuple[int, Any]] = []
        """How the plan stood before a row, now and then in a long run, so that it can be stepped again from there."""
        self.traces: dict[tuple[int, int], Traces] = {}
        """Rows (first, behind) -> what each stage said there, where that was kept."""
        self.finished = False
        self._walk = Walk(plan) if self._shared is None else self._shared.walk(plan)
        self._notes: dict[int, int] = {}
        self._notes_seen = 0
        self._boot: int | None = None
        self._last_t_ms: int | None = None

    @property
    def course(self) -> Course:
        """The course it reads for."""
        return self.plan.course

    @property
    def walk(self) -> Walk:
        """Where each sensor was at every row so far."""
        return self._walk

    @property
    def taken(self) -> Taken:
        """Slot by slot what was read in the stretch that counts."""
        return taken_from(self.course, self.counted.readings)

    @property
    def counted(self) -> Stretch:
        """The stretch that counts: the longest between two restarts."""
        return max(self.stretches, key=lambda one: (one.stop - one.start, one.start))

    @property
    def label(self) -> dict[str, str | None]:
        """For a live swatch: sensor -> the colour that its newest sample looks like; None where it says nothing."""
        return {self.course.sensors[chain.sensor].name: self._label(chain.sensor) for chain in self.plan.chains}

    def lacks(self, table: SampleTable, *, going: bool = False) -> str:
        """What the strategy needs and this run does not have, in one sentence; empty where nothing is lacking.

        Of a run that is still ``going`` a note or a stop is not missed yet.
        """
        return self.plan.lacks(run_has(table), going=going)

    def advance(self, table: SampleTable) -> list[Reading]:
        """Step all rows that are new; gives the readings that are new."""
        self._follow_header(table)
        self._number_notes(table)
        begin, known = self.stretches[-1].stop, table.first
        for start, stop in pieces(table.stop, begin):
            if start > begin:
                self.standing.append((start, self.plan.standing()))
            boots = np.asarray(table.columns["boot"][start - known : stop - known], dtype=np.int64)
            for first, behind in self._shared.spans(boots, start) if self._shared else between_restarts(boots):
                if first > 0 or (self._boot is not None and int(boots[0]) != self._boot):
                    self._restart(start + first)
                self._step(table, start + first, start + behind)
                self._boot = int(boots[behind - 1])
        return self._fresh()

    def forget(self, before: int) -> None:
        """Rows before this one will not be asked for again, so that a run may go on for hours."""
        self._walk.forget(before)

    def finish(self) -> list[Reading]:
        """The run is over: what was held back is decided now. Gives the readings that are new."""
        if not self.finished:
            self._close()
            self.finished = True
        return self._fresh()

    def _fresh(self) -> list[Reading]:
        new = self.readings[self._given :]
        self._given = max(self._given, len(self.readings))
        return new

    def _follow_header(self, table: SampleTable) -> None:
        """Make the plan anew where it was made for other columns, or the stream names a colour it does not know."""
        key = (tuple(table.columns), table.colours)
        if self._header == key:
            return
        columns, settled = (self._shared.usable_columns if self._shared else usable_columns)(table, self.course)
        self._header = key if settled else None
        known = all(
            layout.channels == channels_of(columns, self.course.sensors[layout.sensor].name) for layout in self.plan.layouts
        )
        if known and all(name in self.plan.names for name in table.colours):
            return
        plan = make_plan(self.plan.strategy, self.course, self.plan.layouts[0].palette, columns, table.colours)
        if table.first:
            self._go_on_with(plan, table.first)
        else:
            self._begin(plan)

    def _go_on_with(self, plan: Plan, row: int) -> None:
        """Rows before this one are forgotten: what was read stays, the slots are open again."""
        read = self.readings
        self._begin(plan)
        self.readings = read
        self.stretches = [Stretch(row, row)]
        self._walk.begin_at(row)

    def _number_notes(self, table: SampleTable) -> None:
        if len(table.notes) > self._notes_seen:
            self._notes = self.plan.note_rows(table.notes[self._notes_seen :], self._notes)
            self._notes_seen = len(table.notes)

    def _restart(self, row: int) -> None:
        self._close()
        self.plan.reset()
        if self._walk.rows <= row:
            self._walk.reset()
        self.stretches.append(Stretch(row, row))

    def _step(self, table: SampleTable, start: int, stop: int) -> None:
        stretch = self.stretches[-1]
        wholes = [self._whole(table, sensor.name, start, stop) for sensor in self.course.sensors]
        notes: Mapping[int, int] = {row - start: note for row, note in self._notes.items() if start <= row < stop}
        ahead = table.stop - stop
        if self._walk.rows <= start:
            self._walk.advance(wholes, notes, 0, stop - start, ahead)
        t_us, first = table.columns["t_us"], table.first
        traces: list[Traces] | None = [] if self._is_traced(table) else None
        for row, sensor, event in self.plan.run(wholes, notes, 0, stop - start, ahead, traces=traces):
            self._enter(event, sensor, start + row, int(t_us[start + row - first]) // 1000)
        if traces:
            self.traces[start, stop] = traces[0]
        stretch.stop = stop
        self._last_t_ms = int(t_us[stop - 1 - first]) // 1000

    def _is_traced(self, table: SampleTable) -> bool:
        return self._shared is not None and self._shared.traced and table.rows <= STEP_ROWS

    def _whole(self, table: SampleTable, sensor: str, start: int, stop: int) -> QuantizedColumns:
        if self._shared is not None:
            return self._shared.whole(table, sensor, self.plan.names, start, stop)
        return _whole(table, sensor, self.plan.names, start, stop)

    def _close(self) -> None:
        if self.stretches[-1].stop > self.stretches[-1].start:
            for sensor, event in self.plan.finish():
                self._enter(event, sensor, self.stretches[-1].stop - 1, self._last_t_ms, at_the_end=True)

    def _enter(self, event: int, sensor: int, row: int, t_ms: int | None, *, at_the_end: bool = False) -> None:
        decision = decode(event)
        stretch = self.stretches[-1]
        if decision.how == ELSEWHERE and decision.slot is None:
            if stretch.diverges is None:
                stretch.diverges = row
                stretch.stop_cm = self._stop_cm(sensor, None)
            return
        if stretch.diverges is not None:
            return
        how = HOW[decision.how]
        # What follows from others, or is decided when all is over, was decided at no place.
        seen = how == READ and not at_the_end
        reading = Reading(
            decision.slot, self.plan.names[decision.colour] if decision.colour else None, how,
            decision.sure / 10000 if decision.sure else None, t_ms,
            self._walk.place_cm(sensor, row) if seen else None, row, self._walk.leg(sensor, row) if seen else None,
            sensor if decision.slot is None else self.course.slots[decision.slot].sensor,
            self._stop_cm(sensor, decision.slot) if seen and decision.slot is not None else None,
        )  # fmt: skip
        self.readings.append(reading)
        stretch.readings.append(reading)

    def _stop_cm(self, sensor: int, slot: int | None) -> float | None:
        stop = self.plan.stop_mm10(sensor, slot)
        return None if stop is None else stop / 100

    def _label(self, sensor: int) -> str | None:
        chain = self.plan.chains[sensor]
        if self.stretches[-1].stop == 0 or chain.moment.end:
            return None
        if len(chain.names) > 1 and chain.names[1] in STATELESS_LABELS:
            label = chain.stages[1].step(-1, chain.moment)
        else:
            label = chain.moment.code
        return self.plan.names[label] if 0 <= label < len(self.plan.names) else None


def _whole(table: SampleTable, sensor: str, names: tuple[str, ...], start: int, stop: int) -> QuantizedColumns:
    first, last = start - table.first, stop - table.first
    part = {name: column[first:last] for name, column in table.columns.items() if name.partition(".")[0] in STEPPED}
    return whole_columns(part, stop - start, sensor, table.colours, names)


def pieces(stop: int, start: int = 0) -> Iterator[tuple[int, int]]:
    """(first, behind) of one piece of a run after the other."""
    for first in range(start, stop, STEP_ROWS):
        yield first, min(first + STEP_ROWS, stop)


def between_restarts(boots: NDArray[np.generic]) -> Iterable[tuple[int, int]]:
    """(start, stop) of each run of equal boot numbers."""
    return pairwise([0, *((boots[1:] != boots[:-1]).nonzero()[0] + 1).tolist(), len(boots)])
