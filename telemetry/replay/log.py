"""What every stage said at the samples that matter: the log that explanations are made from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from telemetry.reading.strategy import Strategy, Use
from telemetry.replay.header import plan_for
from telemetry.replay.runner import STEP_ROWS, Runner, Shared, pieces
from telemetry.sample import MISSING, IntColumn, QuantizedColumns, SampleTable

LABELLERS = frozenset({"code", "nearest"})
ONLY_LABELS = Strategy("labels", "Labels", "What the sensor reports, nothing more.", (Use("auto"),))


class RunLog:
    """The stretch of a run that counts, as one strategy went through it; rows are numbered as in the table.

    Made after the runner has finished; uses its plan up. ``names``: the colours by which labels are numbered.
    """

    def __init__(self, runner: Runner, table: SampleTable, shared: Shared) -> None:
        self._runner, self._table, self._shared = runner, table, shared
        self.plan = runner.plan
        self.names = runner.plan.names
        self.start, self.stop = runner.counted.start, runner.counted.stop
        self.legs: Sequence[Sequence[int]] = runner.walk.legs
        self.places: Sequence[Sequence[int]] = runner.walk.places
        self._labels: list[dict[int, tuple[int, ...]]] = [{} for _ in self.plan.chains]
        self._whole_trace = runner.traces.get((self.start, self.stop))

    @property
    def settings(self) -> Sequence[Mapping[str, int]]:
        """The settings of each stage."""
        return self.plan.settings

    def stages(self, sensor: int) -> tuple[str, ...]:
        """The stages of a sensor's chain, in order."""
        return self.plan.chains[sensor].names

    def depths(self, sensor: int, rows: IntColumn, label: int) -> IntColumn:
        """For each of these rows, all traced, the last stage that still passed the label on; the track is 0.

        The ledger is not asked.
        """
        if self._whole_trace is not None:
            passed = self._whole_trace[sensor][rows - self.start, 1:-1] == label
        else:
            passed = np.array([self._labels[sensor][row][1:-1] for row in rows.tolist()], dtype=np.int64) == label
        deepest: IntColumn = np.logical_and.accumulate(passed, axis=1).sum(axis=1)
        return deepest

    def seen(self, sensor: int) -> IntColumn:
        """What the sensor reported, row by row from the table's first on: a label, -1 where it said nothing.

        Where a strategy makes its own of the samples, it is what other strategies would go by.
        """
        chain = self.plan.chains[sensor]
        key = (sensor, chain.names[1], tuple(self.plan.settings[1].items()) if chain.names[1] in LABELLERS else ())
        if key not in self._shared.seen:
            self._shared.seen[key] = self._labelled(sensor)
        return self._shared.seen[key]

    def _labelled(self, sensor: int) -> IntColumn:
        chain = self.plan.chains[sensor]
        whole = self._shared.whole(self._table, self._sensor_name(sensor), self.names, self.start, self.stop)
        if chain.names[1] not in LABELLERS:
            palette = self.plan.layouts[0].palette
            chain = plan_for(ONLY_LABELS, self.plan.course, palette, self._table).chains[sensor]
        out = np.full(self.stop, -1, dtype=np.int64)
        if chain.names[1] == "code":
            out[self.start :] = np.where(whole.code == MISSING, -1, whole.code)
            return out
        m, step = chain.moment, chain.stages[1].step
        columns = (whole.refl, whole.red, whole.green, whole.blue, whole.code)
        labels = []
        for m.refl, m.red, m.green, m.blue, m.code in zip(*(column.tolist() for column in columns), strict=True):
            labels.append(step(-1, m))
        out[self.start :] = labels
        return out

    def has_places(self, sensor: int) -> bool:
        """Whether the sensor's place is known anywhere."""
        key = (sensor, self.start, self.stop)
        if key not in self._shared.placed:
            self._shared.placed[key] = bool((self.walked(sensor)[1] != MISSING).any())
        return self._shared.placed[key]

    def rows_between(self, sensor: int, leg: int, low: float, high: float) -> IntColumn:
        """The rows in which a sensor was between two places (0.1 mm) of a leg."""
        key = (sensor, leg, low, high, self.start, self.stop)
        if key not in self._shared.inside:
            legs, places = self.walked(sensor)
            self._shared.inside[key] = ((legs == leg) & (places >= low) & (places <= high)).nonzero()[0] + self.start
        return self._shared.inside[key]

    def places_at(self, sensor: int, rows: IntColumn) -> IntColumn:
        """The places (0.1 mm) of those of these rows where one is known."""
        places = self.walked(sensor)[1][rows - self.start]
        known: IntColumn = places[places != MISSING]
        return known

    def walked(self, sensor: int) -> tuple[IntColumn, IntColumn]:
        """Legs and places of the stretch."""
        key = (sensor, self.start, self.stop)
        if key not in self._shared.walked:
            both = (self.legs[sensor], self.places[sensor])
            legs, places = (np.array(one[self.start : self.stop], dtype=np.int64) for one in both)
            self._shared.walked[key] = (legs, places)
        return self._shared.walked[key]

    def trace(self, rows: Iterable[tuple[int, int]]) -> None:
        """Step the stretch again and keep what every stage says in these ranges (first row, row behind the last)."""
        plan = self.plan
        ranges = _merged(rows, self.start, self.stop)
        if not ranges or self._whole_trace is not None:
            return
        plan.reset()
        numbered = plan.note_rows(self._table.notes)
        at = self.start
        for first, behind in ranges:
            known = [one for one in self._runner.standing if at < one[0] <= first]
            if known:
                at, standing = known[-1]
                plan.stand_as(standing)
            for begin, end in self._pieces(at, first):
                wholes, notes, base = self._whole(begin, end, numbered)
                plan.run(wholes, notes, begin - base, end - base)
            for begin, end in self._pieces(first, behind):
                wholes, notes, base = self._whole(begin, end, numbered)
                self._keep(wholes, notes, base, (begin - base, end - base))
            at = behind

    def _pieces(self, start: int, stop: int) -> Iterable[tuple[int, int]]:
        """What is stepped at once between two rows: all of a short run, for its whole numbers are shared."""
        return pieces(stop, start) if self._table.rows > STEP_ROWS else [(start, stop)] * (stop > start)

    def _whole(
        self, start: int, stop: int, numbered: Mapping[int, int]
    ) -> tuple[list[QuantizedColumns], Mapping[int, int], int]:
        """Whole numbers and notes that hold these rows, and the row from which they count."""
        first, behind = (start, stop) if self._table.rows > STEP_ROWS else (self.start, self.stop)
        sensors = self.plan.course.sensors
        wholes = [self._shared.whole(self._table, sensor.name, self.names, first, behind) for sensor in sensors]
        return wholes, {row - first: note for row, note in numbered.items() if first <= row < behind}, first

    def _keep(
        self, wholes: Sequence[QuantizedColumns], notes: Mapping[int, int], base: int, rows: tuple[int, int]
    ) -> None:
        plan = self.plan
        if len(plan.chains) == 1:
            _, labels, _ = plan.chains[0].trace(wholes[0], notes, *rows)
            self._labels[0].update(zip(range(base + rows[0], base + rows[1]), labels, strict=True))
            return
        # Sensors share one ledger, so they are stepped in turn at every sample, as the runner does.
        for row in range(*rows):
            for sensor, chain in enumerate(plan.chains):
                _, (label,), _ = chain.trace(wholes[sensor], notes, row, row + 1)
                self._labels[sensor][base + row] = label

    def labels(self, sensor: int, row: int) -> tuple[int, ...]:
        """The labels after each stage at a row that was traced; empty where it was not."""
        if self._whole_trace is not None:
            inside = self.start <= row < self.stop
            return tuple(self._whole_trace[sensor][row - self.start].tolist()) if inside else ()
        return self._labels[sensor].get(row, ())

    def _sensor_name(self, sensor: int) -> str:
        return self.plan.course.sensors[sensor].name


def _merged(rows: Iterable[tuple[int, int]], start: int, stop: int) -> list[tuple[int, int]]:
    """Ranges in order within ``start`` to ``stop``, those that overlap made one."""
    out: list[tuple[int, int]] = []
    for first, behind in sorted((max(first, start), min(behind, stop)) for first, behind in rows):
        if behind <= first:
            continue
        if out and first <= out[-1][1]:
            out[-1] = (out[-1][0], max(out[-1][1], behind))
        else:
            out.append((first, behind))
    return out
