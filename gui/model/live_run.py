"""A run while it happens: samples, what the palette makes of them, the readings of a strategy, the link's health."""

from __future__ import annotations

import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from gui.model.channels import PALETTE, Names, sensors_in
from gui.model.series import Series
from telemetry.errors import SidelongError
from telemetry.live.reader import LiveReader
from telemetry.live.readings import LiveReadings, looks_of
from telemetry.recording.follow import Follower
from telemetry.replay.header import palette_for
from telemetry.replay.looks import Looks
from telemetry.replay.readings import Reading, Taken, taken_from
from telemetry.replay.runner import Runner
from telemetry.sample import SampleTable
from telemetry.stream.budget import serial_budget
from telemetry.stream.drives import RunDetector
from telemetry.wording import sentence

if TYPE_CHECKING:
    from gui.model.selection import Selection
    from telemetry.palette import Palette

RATE_OVER_S = 2.0
JITTER_ROWS = 400


@dataclass(frozen=True, slots=True)
class Health:
    """The link at a glance. ``jitter_ms``: 95th percentile; ``gap_ms``: the longest lately; ``lost``: lines in all."""

    lines_per_s: float = 0.0
    lost: int = 0
    jitter_ms: float = 0.0
    gap_ms: float = 0.0
    rejected: int = 0
    budget: str = ""
    """One sentence where the stream does not fit the link, else empty."""


class LiveRun:
    """Follows one capture. ``series`` is for plots, ``table`` for readings; ``states`` what is read, slot by slot."""

    def __init__(self, path: Path, selection: Selection) -> None:
        self._selection = selection
        self.detector = RunDetector()
        self.reader = LiveReader(Follower(path), detector=self.detector)
        self.series = Series()
        self.health = Health()
        self.marks: list[tuple[int, str]] = []
        self.reading_error = ""
        self.palette: Palette | None = None
        """The palette in use: the one chosen, else typical values fitted to this stream."""
        self._palette_for: tuple[object, ...] = ()
        self._fitted_to: tuple[object, ...] | None = None
        self._looks: Looks | None = None
        self._from_us = 0
        self._kept_to_us = 0
        self._last_new = time.monotonic()
        self._ahead_us: int | None = None
        """The capture's clock before the steady one of this computer, by the sample that came with the least delay."""

    @property
    def follower(self) -> Follower:
        return self.reader.follower

    @property
    def table(self) -> SampleTable:
        """The samples that are kept; rows count from the stream's beginning."""
        return self.reader.table

    @property
    def from_row(self) -> int:
        """Where the run in progress begins: the readings count from here."""
        return self.reader.from_row

    @property
    def silence_s(self) -> float:
        """Seconds since the last samples came."""
        return time.monotonic() - self._last_new

    def now_us(self) -> int:
        """Unix time by the clock of the capture: somebody may set that of the computer meanwhile."""
        return time.time_ns() // 1000 if self._ahead_us is None else time.monotonic_ns() // 1000 + self._ahead_us

    @property
    def drove_s(self) -> float:
        """How long the robot drove the last time; the rests around that, which a run has too, do not count."""
        return self.detector.drove_s

    @property
    def names(self) -> Names:
        return Names(self.table.colours, self._looks.names if self._looks is not None else ("none",))

    @property
    def _runner(self) -> Runner | None:
        readings = self.reader.readings
        return next(iter(readings.runners.values()), None) if readings is not None else None

    @property
    def taken(self) -> Taken:
        """What the strategy has read since the run began, one reading a slot."""
        readings = self._runner.stretches[-1].readings if self._runner is not None else []
        return taken_from(self._selection.course, readings)

    @property
    def readings(self) -> list[tuple[int, Reading]]:
        """(row in the series, reading) of everything read since the run began."""
        if self._runner is None:
            return []
        return [(self.from_row + (reading.row or 0), reading) for reading in self._runner.stretches[-1].readings]

    @property
    def seen(self) -> dict[str, str | None]:
        """For each sensor the colour that its newest sample looks like to the strategy."""
        return self._runner.label if self._runner is not None else {}

    def poll(self) -> int:
        """Take in what is new; how many samples came. Raises SidelongError."""
        before = self.table.stop
        new = self.reader.poll()
        if new:
            self._last_new = time.monotonic()
            ahead_us = int(self.table.columns["arrival_us"][-1]) - time.monotonic_ns() // 1000
            self._ahead_us = ahead_us if self._ahead_us is None else max(self._ahead_us, ahead_us)
            self.series.take(self.table)
            self._look_through_palette(before)
            self._watch_motion()
            self._read()
            self.reader.forget()
            self.series.thin()
        return new

    def _look_through_palette(self, start: int) -> None:
        """What the palette sees from row ``start`` on; from the first row where the palette has become another one."""
        table = self.table
        self._fitted_to = looks_of(table, self._fitted_to)
        wanted = (self._selection.palette, self._fitted_to)
        changed = self.palette is None or wanted != self._palette_for
        if changed:
            self.palette = palette_for(table, self._selection.course, self._selection.palette)
            self._palette_for = wanted
            self._looks = Looks(self.palette, self._selection.course, table)
            self.reader.readings = None
        assert self._looks is not None
        for sensor in sensors_in(table.columns):
            codes = self._looks.labels(table, sensor, 0 if changed else max(0, start - table.first))
            name = f"{PALETTE}.{sensor}" if sensor else PALETTE
            if codes is not None and changed:
                self.series.replace(name, codes)
            elif codes is not None:
                self.series.add(name, codes)

    def _watch_motion(self) -> None:
        """A new run begins when the robot moves after it has stood, unless one is being recorded."""
        before = self.detector.began
        self.reader.detect()
        began = self.detector.began
        if began is not None and began != before and not self.reader.holds:
            self._start_at(began)

    @property
    def moving(self) -> bool:
        """Whether the robot is on a run: it moves, or has stood for a moment only."""
        return self.detector.in_run

    def begin_run(self) -> int:
        """A run is kept from here on, and motion does not cut it. Unix us of its begin.

        While the robot drives already that is where it began to move: a key that is pressed late costs nothing.
        """
        self.reader.holds = True
        if not self.moving:
            self._start_at(self.table.stop)
            return self._from_us
        # What the run before has is not in this one, too.
        if self._kept_to_us > self._from_us:
            arrival = np.asarray(self.table.columns["arrival_us"])
            self._start_at(int(np.searchsorted(arrival, self._kept_to_us)) + self.table.first)
            return self._kept_to_us
        return self._from_us

    def end_run(self) -> None:
        self.reader.holds = False
        self._kept_to_us = self.now_us()

    def _start_at(self, row: int) -> None:
        self.reader.begin_at(row)
        at = row - self.table.first
        known = 0 <= at < self.table.rows
        self._from_us = int(self.table.columns["arrival_us"][at]) if known else self.now_us()
        self._read()

    def read_anew(self) -> None:
        """Strategy, course or palette has changed: read the run in progress once more."""
        if self.table.rows:
            self._look_through_palette(self.table.stop)
        self._start_at(self.from_row)

    def _read(self) -> None:
        if self.table.stop <= self.from_row:
            return
        try:
            if self.reader.readings is None:
                strategy = {self._selection.strategy: self._selection.live_strategy()}
                self.reader.readings = LiveReadings(self._selection.course, strategy, self.palette)
            self.reader.read()
            self.reading_error = next(iter(self.reader.readings.lacking.values()), "")
        except SidelongError as error:
            self.reading_error = str(error)

    def mark(self, text: str) -> None:
        self.marks.append((max(self.table.stop - 1, 0), text))

    def look_at_link(self, baud: int | None = None) -> None:
        """Work out the link's health anew; a few times a second is enough. ``baud``: of a serial port, else None."""
        table = self.table
        if table.rows < 3:
            return
        arrival = np.asarray(table.columns["arrival_us"], dtype=np.int64)
        recent = int(np.searchsorted(arrival, self.now_us() - int(RATE_OVER_S * 1e6)))
        late = arrival[-JITTER_ROWS:] - np.asarray(table.columns["t_us"][-JITTER_ROWS:], dtype=np.int64)
        steps = np.diff(arrival[-JITTER_ROWS:])
        rate = (table.rows - recent) / RATE_OVER_S
        self.health = Health(
            lines_per_s=rate,
            lost=table.lost,
            jitter_ms=float(np.percentile(late - np.median(late), 95)) / 1000.0,
            gap_ms=float(steps.max()) / 1000.0,
            rejected=self.follower.summary.rejected,
            budget=self._budget(rate, baud),
        )

    def _budget(self, lines_per_s: float, baud: int | None) -> str:
        """Whether the stream fits the serial line, from the mean length of its lines so far."""
        summary = self.follower.summary
        lines = summary.rows + summary.rejected
        if baud is None or not lines or lines_per_s <= 0:
            return ""
        narrow = serial_budget(summary.bytes / lines, lines_per_s, baud).warning
        return sentence(narrow) if narrow is not None else ""

    def close(self) -> None:
        self.reader.close()
