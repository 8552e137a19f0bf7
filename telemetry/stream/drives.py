"""Cuts an afternoon into runs: where the robot begins to move and where it stands again, or where its notes say so.

Pure: fed with samples, it tells at which samples a run begins and ends. Times are the robot's; nothing here knows a clock.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from telemetry.sample import SampleTable, sensor_channel

STILL_S: Final = 3.0
"""Standing so long ends a run. A shorter pause is part of it: robots stop to turn, or to look."""
LEAD_S: Final = 1.0
"""So much before the robot began to move belongs to the run: the field under the sensor, seen at rest."""
SHORTEST_S: Final = 1.5
"""A movement shorter than this is a robot being put in its place, not a run. Common practice, no source."""
MOVED_CM: Final = 0.5
"""Further than this within WINDOW_US is motion; less is the noise of a standing robot. Common practice, no source."""
MOVING_CM_S: Final = 2.0
JUMP_CM: Final = 5.0
"""A step between two samples that no such robot drives."""
WINDOW_US: Final = 300_000


@dataclass(frozen=True, slots=True)
class RunFound:
    """A run, from the first sample that belongs to it to the last; rows count from the beginning of the table."""

    first: int
    last: int
    why: str
    begin_us: int = 0
    end_us: int = 0
    """When the first and the last sample arrived, Unix time."""


class SampleTime(NamedTuple):
    """A sample's time by the robot's clock, and when it arrived."""

    t_us: int
    arrival_us: int

    @classmethod
    def of(cls, table: SampleTable, row: int) -> SampleTime:
        """Of a row, as the stream counts them."""
        at = row - table.first
        return cls(int(table.columns["t_us"][at]), int(table.columns["arrival_us"][at]))


NEVER: Final = SampleTime(0, 0)


@dataclass
class RunDetector:
    """Finds runs in a table that grows. ``still_s`` without motion ends a run, ``lead_s`` before its motion belong to it.

    With ``start_note`` the run begins at that note instead of motion; with ``stop_note`` it ends at that one (or when the
    robot restarts). Less motion than ``least_s`` is no run.
    """

    still_s: float = STILL_S
    lead_s: float = LEAD_S
    least_s: float = SHORTEST_S
    start_note: str = ""
    stop_note: str = ""
    too_short: int = 0
    """Motions so far of less than ``least_s``."""
    _done: int = 0
    _notes: int = 0
    _began: int | None = None
    _earliest: int = 0
    _begun: SampleTime = NEVER
    _set_out: SampleTime = NEVER
    _moved: SampleTime = NEVER

    @property
    def in_run(self) -> bool:
        """Whether a run is going on."""
        return self._began is not None

    @property
    def began(self) -> int | None:
        """The sample at which the run that is going on begins; None where none is."""
        return self._began

    @property
    def drove_s(self) -> float:
        """How long the robot drove the last time; the rests around that, which a run has too, do not count."""
        return max(0, self._moved.t_us - self._set_out.t_us) / 1e6

    def advance(self, table: SampleTable) -> list[RunFound]:
        """Runs that have ended within the rows that are new."""
        first, stop = table.first, table.stop
        if stop == self._done:
            return []
        start = max(self._done, first)
        before = max(first, start - 1000)
        t_us = np.asarray(table.columns["t_us"], dtype=np.int64)
        boot = np.asarray(table.columns["boot"], dtype=np.int64)
        moving = moves(table, before - first, stop - first)[start - before :]
        notes = {
            note.row: note.text for note in table.notes[self._notes :] if note.text in {self.start_note, self.stop_note}
        }
        self._notes = len(table.notes)
        out: list[RunFound] = []
        for row, moves_now in zip(range(start, stop), moving.tolist(), strict=True):
            note = notes.get(row, "")
            if row > first and boot[row - first] != boot[row - 1 - first]:
                self._end(out, table, row - 1, "the robot restarted")
                self._earliest = row
            if self._began is None:
                if (note == self.start_note) if self.start_note else moves_now:
                    self._begin(row, table)
            elif note and note == self.stop_note:
                self._end(out, table, row, f"note '{note}'")
            elif moves_now:
                self._moved = SampleTime.of(table, row)
            elif not self.stop_note and t_us[row - first] - self._moved.t_us >= self.still_s * 1e6:
                self._end(out, table, row, f"stood still for {self.still_s:g} s")
        self._done = stop
        return out

    def finish(self, table: SampleTable, why: str = "the session ended") -> list[RunFound]:
        """The run that is going on ends here; also where nothing arrives any more."""
        out = self.advance(table)
        if table.rows:
            self._end(out, table, table.stop - 1, why)
        return out

    def _begin(self, row: int, table: SampleTable) -> None:
        lead = 0 if self.start_note else round(self.lead_s * 1e6)
        low = max(self._earliest, table.first)
        t_us = np.asarray(table.columns["t_us"][low - table.first : row + 1 - table.first], dtype=np.int64)
        self._began = min(int(np.searchsorted(t_us, t_us[-1] - lead)) + low, row)
        self._begun = SampleTime.of(table, self._began)
        self._moved = self._set_out = SampleTime.of(table, row)

    def _end(self, out: list[RunFound], table: SampleTable, row: int, why: str) -> None:
        began, self._began = self._began, None
        if began is None:
            return
        here = SampleTime.of(table, row)
        last = here if self.start_note else self._moved
        if last.t_us - self._set_out.t_us >= self.least_s * 1e6:
            out.append(RunFound(began, row, why, self._begun.arrival_us, here.arrival_us))
        else:
            self.too_short += 1
        self._earliest = row + 1


def drives(table: SampleTable) -> list[RunFound]:
    """The runs within a whole recording, by motion."""
    return RunDetector().finish(table)


def may_be_several(table: SampleTable) -> bool:
    """Whether the robot rests or starts anew between two motions: where not, there is one drive at the most."""
    moving = np.flatnonzero(moves(table, 0, table.rows))
    t_us, boot = (np.asarray(table.columns[name], dtype=np.int64)[moving] for name in ("t_us", "boot"))
    return bool((boot[1:] != boot[:-1]).any()) or bool((t_us[1:] - t_us[:-1]).max(initial=0) >= STILL_S * 1e6)


def moves(table: SampleTable, start: int, stop: int) -> NDArray[np.bool_]:
    """Whether the robot moves, sample by sample: by distance and speed, without these by how its sensor's light changes."""
    if stop <= start:
        return np.zeros(0, dtype=np.bool_)
    sent_us = np.asarray(table.columns["t_us"][start:stop], dtype=np.int64)
    # A restart sets the robot's clock back; here it only has to go on.
    ahead = sent_us[1:] - sent_us[:-1]
    t_us = sent_us if (ahead >= 0).all() else np.concatenate([[0], np.cumsum(np.maximum(ahead, 0))])
    before = np.searchsorted(t_us, t_us - WINDOW_US)
    before = np.minimum(before, np.arange(len(t_us)))
    moving = np.zeros(len(t_us), dtype=np.bool_)
    if "dist" in table.columns:
        sent_cm = np.asarray(table.columns["dist"][start:stop], dtype=np.float64)
        step = sent_cm[1:] - sent_cm[:-1]
        # A distance that is set back to 0 is no motion; nor is one that is not sent, since no comparison with it holds.
        dist = np.concatenate([[0.0], np.cumsum(np.where(np.abs(step) < JUMP_CM, step, 0.0))])
        moving |= np.abs(dist - dist[before]) > MOVED_CM
    if "speed" in table.columns:
        moving |= np.abs(np.asarray(table.columns["speed"][start:stop], dtype=np.float64)) > MOVING_CM_S
    if "dist" not in table.columns and "speed" not in table.columns:
        channel = sensor_channel(table.columns, "refl", "") or sensor_channel(table.columns, "green", "")
        if channel is not None:
            light = np.asarray(table.columns[channel][start:stop], dtype=np.float64)
            span = max(float(np.nanmax(light, initial=0.0)), 1.0)
            moving |= np.nan_to_num(np.abs(light - light[before])) > 0.15 * span
    return moving
