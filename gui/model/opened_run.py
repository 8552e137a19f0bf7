"""One recording, opened: its plots, what the palette sees, what a strategy read, what each stage said at a sample."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from gui.model.channels import PALETTE, Names, sensors_in
from gui.model.series import Flag, Series
from gui.words import tr
from telemetry.block_column import LONG_ROWS
from telemetry.reading.load import load_strategy
from telemetry.replay.header import palette_for, plan_for
from telemetry.replay.log import RunLog
from telemetry.replay.looks import Looks
from telemetry.replay.readings import Taken
from telemetry.replay.runner import Runner, Shared
from telemetry.sample import MISSING, sensor_channel

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from telemetry.course import Slot
    from telemetry.palette import Palette
    from telemetry.recording.load import Recording
    from telemetry.sample import SampleTable


AROUND_ROWS = 400
"""So many samples around the one asked for are stepped again at once: stepping on by hand then costs nothing."""
NEAR_CM = 4.0


class Log:
    """One strategy stepped through the run: what it took, and what every stage said at any sample."""

    def __init__(self, runner: Runner, table: SampleTable) -> None:
        self.runner = runner
        self.taken: Taken = runner.taken
        self._log = RunLog(runner, table, Shared())

    def at(self, row: int, sensor: int = 0) -> list[tuple[str, str]]:
        """(stage, what it said) for one sample, in the order of stepping; empty outside the stretch that was read."""
        labels = self._log.labels(sensor, row)
        if not labels:
            if not self._log.start <= row < self._log.stop:
                return []
            self._log.trace([(row - AROUND_ROWS, row + AROUND_ROWS)])
            labels = self._log.labels(sensor, row)
        stages = self._log.stages(sensor)
        return [(stage, self._word(label)) for stage, label in zip(stages[1:-1], labels[1:-1], strict=True)]

    def _word(self, label: int) -> str:
        if label < 0:
            return tr("nothing")
        names = self._log.names
        return names[label] if label < len(names) else str(label)

    def place(self, row: int, sensor: int = 0) -> tuple[str, float] | None:
        """(leg, cm from its start) under a sensor at a sample; None where no distance is known, or before the first leg."""
        legs = self.runner.course.legs
        if not 0 <= sensor < len(self._log.legs) or row >= len(self._log.legs[sensor]):
            return None
        leg, place = self._log.legs[sensor][row], self._log.places[sensor][row]
        return (legs[leg].name, place / 100.0) if 0 <= leg < len(legs) and place != MISSING else None

    def is_near(self, row: int, slot: Slot) -> bool:
        """Whether the sensor is about where the slot is, as far as places go wrong."""
        if slot.at_cm is None or row >= len(self._log.legs[slot.sensor]):
            return False
        leg, place = self._log.legs[slot.sensor][row], self._log.places[slot.sensor][row]
        return leg == slot.leg and place != MISSING and abs(place / 100.0 - slot.at_cm) <= NEAR_CM

    def reached(self, slot: Slot) -> bool:
        """Whether the sensor came as far as the slot; True where its place is not known."""
        if slot.at_cm is None:
            return True
        rows = zip(self._log.legs[slot.sensor], self._log.places[slot.sensor], strict=True)
        edge = slot.at_cm - (slot.width_cm or 0.0) / 2
        return any(leg > slot.leg or (leg == slot.leg and place != MISSING and place / 100.0 >= edge) for leg, place in rows)

    def nearest_row(self, slot: Slot) -> int | None:
        """The sample at which the sensor came nearest to a slot; None where its place is not known."""
        if slot.at_cm is None:
            return None
        best: tuple[float, int] | None = None
        rows = zip(self._log.legs[slot.sensor], self._log.places[slot.sensor], strict=True)
        for row, (leg, place) in enumerate(rows):
            away = abs(place / 100.0 - slot.at_cm)
            if leg == slot.leg and (best is None or away < best[0]):
                best = (away, row)
        return None if best is None else best[1]


class OpenedRun:
    """Loads nothing by itself: give it a recording. ``chosen``: the palette chosen by the user, or None."""

    def __init__(self, recording: Recording, chosen: Palette | None) -> None:
        self.recording = recording
        table = recording.table
        where = f"{recording.path}, palette"
        # Beside each other: of a run of hours both take their time.
        with ThreadPoolExecutor(1) as beside:
            series = beside.submit(Series.whole, table)
            self.palette = palette_for(table, recording.course, chosen, recording.meta.palette, where)
            looks = Looks(self.palette, recording.course, table)
            self.names = Names(table.colours, looks.names)
            seen = {sensor: looks.labels(table, sensor) for sensor in sensors_in(table.columns)}
            self.series = series.result()
        for sensor, codes in seen.items():
            if codes is not None:
                self.series.add(f"{PALETTE}.{sensor}" if sensor else PALETTE, codes)
        self._logs: dict[str, Log] = {}

    @property
    def path(self) -> Path:
        return self.recording.path

    @property
    def is_long(self) -> bool:
        """Whether it takes more than a blink to read it with another strategy: then ``prepare`` is for a thread."""
        return self.recording.table.rows >= LONG_ROWS

    def prepare(self, spec: str) -> None:
        """Read a long run with a strategy; ``log`` gives it from then on. Raises SidelongError."""
        self.log(spec, now=True)

    def log(self, spec: str, *, now: bool = False) -> Log | None:
        """A strategy's log; None without a course, and of a long run before ``prepare``. Raises SidelongError."""
        course = self.recording.course
        if course is None or (self.is_long and not now and spec not in self._logs):
            return None
        if spec not in self._logs:
            table = self.recording.table
            runner = Runner(plan_for(load_strategy(spec), course, self.palette, table))
            runner.advance(table)
            runner.finish()
            self._logs[spec] = Log(runner, table)
        return self._logs[spec]

    def flags(self, spec: str) -> list[Flag]:
        """The robot's notes, the user's marks, and where the strategy decided; those against the truth as failures."""
        recording = self.recording
        out = [Flag(note.row, note.text) for note in recording.table.notes if not note.text.startswith("read,")]
        out += [Flag(mark.row, mark.text, "mark") for mark in recording.marks]
        log = self.log(spec)
        if log is not None and recording.course is not None:
            for slot, reading in enumerate(log.taken.slots):
                if reading.row is None or reading.colour is None:
                    continue
                failed = recording.truth is not None and reading.colour != recording.truth[slot]
                words = f"{recording.course.slots[slot].name} {reading.colour}"
                out.append(Flag(reading.row, words, "fail" if failed else "read"))
        return sorted(out, key=lambda flag: flag.row)

    def row_of_failure(self, spec: str) -> int | None:
        """The sample where a strategy first went wrong."""
        return next(iter(self.rows_of_failures(spec)), None)

    def rows_of_failures(self, spec: str) -> list[int]:
        """The samples where a strategy went wrong, slot by slot: where it misread one, or near one that it missed."""
        recording = self.recording
        log = self.log(spec)
        rows: list[int] = []
        if log is None or recording.truth is None or recording.course is None:
            return rows
        for slot, (reading, colour) in enumerate(zip(log.taken.slots, recording.truth, strict=True)):
            if reading.colour == colour:
                continue
            if reading.row is not None and reading.colour is not None:
                rows.append(reading.row)
                continue
            place = recording.course.slots[slot]
            seen = [row for row in self._rows_of(colour, place.sensor) if log.is_near(row, place)]
            near = seen[len(seen) // 2] if seen else log.nearest_row(place)
            rows += [near] if near is not None else []
        return list(dict.fromkeys(rows))

    def seen_codes(self) -> tuple[NDArray[np.generic] | None, tuple[str, ...]]:
        """What the first sensor saw, sample by sample: its own codes, or else the palette's; and the names of these."""
        name = self.recording.course.sensors[0].name if self.recording.course is not None else ""
        own = sensor_channel(self.recording.table.columns, "colour", name)
        if own is not None:
            return self.series.channel(own), self.names.stream
        return self.series.channel(f"{PALETTE}.{name}" if name else PALETTE), self.names.palette

    def _rows_of(self, colour: str, sensor: int) -> list[int]:
        """The samples at which a sensor reported a colour, by its own code or else through the palette."""
        course = self.recording.course
        name = course.sensors[sensor].name if course is not None else ""
        own = sensor_channel(self.recording.table.columns, "colour", name)
        channel, names = (own, self.names.stream) if own is not None else (
            f"{PALETTE}.{name}" if name else PALETTE, self.names.palette)  # fmt: skip
        codes = self.series.channel(channel)
        if codes is None or colour not in names:
            return []
        return [int(row) for row in np.flatnonzero(codes == names.index(colour))]

    def seen(self, sensor: str, row: int) -> str | None:
        """What one sensor reported at a sample, None where it said nothing."""
        name = sensor_channel(self.recording.table.columns, "colour", sensor)
        codes = self.series.channel(name) if name is not None else None
        names = self.names.stream
        return names[int(codes[row])] if codes is not None and 0 <= int(codes[row]) < len(names) else None
