"""The samples of a run as plots want them: along time or along the way driven, growing or whole."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from gui.model.growing import Growing
from gui.model.pyramid import Heads, Pyramid, PyramidLevel
from gui.model.thinning import Thinning, of_blocks, of_two
from telemetry.block_column import BlockColumn, in_threads, pieces

if TYPE_CHECKING:
    from telemetry.sample import Columns, SampleTable

FloatArray = NDArray[np.float64]
TIME = "time"
WAY = "way"
GAP_S = 0.25
"""Silence longer than this is drawn as a gap, never bridged by a line."""
GAP_CM = 8.0
LINES_MISSING = 2.5
"""So many times the usual pause between two samples: there was one in between that did not arrive."""
USUAL_OVER = 400
DRIVE_ROWS = 1 << 16
"""Samples whose way and speed are worked out at once: what is needed meanwhile stays in a processor's cache."""
SPEED_OVER_S = 0.15
"""The speed shown is that over this time: shorter is noise, longer hides a stop."""
STANDING_CM_S = 1.5
SPEED = "speed, from distance"
"""The channel of that speed, for robots that send none."""
NEW_LEG_CM = 3.0
"""A distance that falls by more than this was set back by the robot's program, not driven."""
MOST_GAPS = 1000
"""So many are told of a live run of hours."""
LARGEST = 1e15
"""No sensor sends more; what a damaged file holds beyond is shown there."""


def _clean(values: NDArray[np.generic]) -> NDArray[np.generic]:
    return np.clip(values, -LARGEST, LARGEST) if values.dtype.kind == "f" else values


def _last(growing: Growing) -> float:
    return float(growing.view[-1]) if growing.used else 0.0


@dataclass(frozen=True, slots=True)
class Flag:
    """A moment worth a line through all strips. ``kind``: note (the robot's), read, mark (the user's), fail."""

    row: int
    text: str
    kind: str = "note"


class Series:
    """What a run's plots are made from; ``take(table)`` adds the rows that have come since the last call.

    ``rows`` are held, ``taken`` were taken in: the same, unless old ones of a live run were thinned (thinning.py).

    ``time_s`` starts at 0 and never falls (a restarted robot goes on after the time it was away); ``way_cm`` is the distance
    driven so far, forwards or backwards. Channels are float64, NaN where not sent; colour channels whole, -1 where not sent.
    Those of a run of hours stay where they are (BlockColumn), but for the colours.
    """

    def __init__(self) -> None:
        self.rows = self.taken = 0
        self.thinning = Thinning()
        self._time = Growing()
        self._way = Growing()
        self._path_x = Growing(np.float32)
        self._path_y = Growing(np.float32)
        self._place = (0.0, 0.0)
        self._odometer = np.zeros(0)
        """The distance at the last rows, as far back as a speed is worked out over."""
        self._speed = Growing(np.float32)
        self._channels: dict[str, Growing] = {}
        self._long: dict[str, BlockColumn] = {}
        self._sent: set[str] = set()
        self._pyramids: dict[str, Pyramid] = {}
        self._heads: dict[str, Heads] = {}
        self.gaps: list[tuple[int, float]] = []
        """(row after the gap, of those taken; its length in seconds)."""
        self._start_us: int | None = None
        self._last_us = 0
        self._last_arrival_us = 0
        self._last_boot = 0
        self._usual_s: float | None = None
        self._shift_us = 0
        self._last_dist = float("nan")
        self._order: tuple[str, ...] = ()

    @classmethod
    def whole(cls, table: SampleTable) -> Series:
        """The series of a finished run."""
        series = cls()
        series.take(table)
        if series._long:
            series.build()
        return series

    def build(self) -> None:
        """All that pictures of the whole run need, on all cores: of a run of hours before it is shown."""
        names = [name for name in self._long if name != "n"]
        names += [SPEED] if self.channel(SPEED) is not None else []
        for axis in (TIME, WAY):
            self._heads_of(axis)
        in_threads(lambda number: self._pyramid(names[number]), range(len(names)), least=2)

    @property
    def time_s(self) -> FloatArray:
        return self._time.view  # type: ignore[return-value]

    @property
    def way_cm(self) -> FloatArray:
        return self._way.view  # type: ignore[return-value]

    @property
    def path_cm(self) -> tuple[FloatArray, FloatArray]:
        """Where the robot believes it is, from distance and heading: x along heading 0, y along 90; starts at (0, 0)."""
        return self._path_x.view, self._path_y.view  # type: ignore[return-value]

    def axis(self, name: str) -> FloatArray:
        """``time_s`` or ``way_cm``."""
        return self.way_cm if name == WAY else self.time_s

    def channel(self, name: str) -> NDArray[np.generic] | None:
        """The values of one channel, or None where the robot does not send it."""
        if name == SPEED:
            return self._speed.view if "dist" in self._channels or "dist" in self._long else None
        if name in self._long:
            return self._long[name]  # type: ignore[return-value]
        growing = self._channels.get(name)
        return None if growing is None else growing.view

    def extent(self, name: str) -> tuple[float, float] | None:
        """The least and the greatest value of a channel; None where nothing was sent. Of a run of hours from its levels."""
        values: Any = self.channel(name)
        if values is None or not len(values):
            return None
        levels = self._pyramid(name) if name in self._long else None
        low, high = (levels.lows[-1], levels.highs[-1]) if levels is not None and levels.lows else (values, values)
        low, high = (np.asarray(one, dtype=np.float64) for one in (low, high))
        if not np.isfinite(low).any():
            return None
        return float(np.nanmin(low)), float(np.nanmax(high))

    @property
    def channels(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys([*self._order, *self._long, *self._channels]))

    def add(self, name: str, values: NDArray[np.generic]) -> None:
        """Values worked out from the samples, for the rows of the last ``take``: a channel of its own."""
        growing = self._channels.get(name)
        if growing is None:
            growing = self._channels[name] = Growing(values.dtype.type)
        missing = self.rows - len(values) - growing.used
        if missing > 0:
            growing.extend(np.full(missing, -1 if values.dtype.kind == "i" else np.nan))
        growing.extend(values)

    def replace(self, name: str, values: NDArray[np.generic]) -> None:
        """All values of a channel that was worked out, anew."""
        self._channels.pop(name, None)
        self._pyramids.clear()
        held = self.rows - self.thinning.old  # what was thinned before has none
        self.add(name, values[-held:] if self.thinning.old else values)

    def take(self, table: SampleTable) -> int:
        """Add the rows of ``table`` that are new; returns how many."""
        old, new = self.taken, table.stop
        if new <= old:
            return 0
        base = table.first
        columns = table.columns
        self._order = tuple(name for name in columns if name not in ("t_us", "arrival_us", "boot"))
        for growing in (self._time, self._way, self._path_x, self._path_y, self._speed):
            growing.make_room(new - old)
        for start, stop in pieces(new - base, DRIVE_ROWS, start=old - base):
            self._take_drive(columns, start, stop)
        for name in self._order:
            column: Any = columns[name]
            if isinstance(column, BlockColumn):
                self._take_long(name, column)
            else:
                self._take_channel(name, column[old - base : new - base])
        for name, growing in self._channels.items():
            if name in self._sent and growing.used < self.rows:
                growing.extend(np.full(self.rows - growing.used, -1 if name.split(".")[0] == "colour" else np.nan))
        self._pyramids.clear()
        self._heads.clear()
        return new - old

    def thin(self) -> None:
        """Of a live run, now and then, with all channels worked out: what is old takes less room."""
        rows, block, before = self.thinning.due(self.rows), self.thinning.block, self.thinning.old
        if not rows:
            return
        merged = self.thinning.done(rows)
        codes = [growing for growing in self._channels.values() if growing.view.dtype.kind == "i"]
        extremes = [self._speed, *(growing for growing in self._channels.values() if growing.view.dtype.kind != "i")]
        places = [self._time, self._way, self._path_x, self._path_y]
        for kind, several in (("code", codes), ("extreme", extremes), ("place", places)):
            for growing in several:
                growing.extend(np.full(self.rows - growing.used, -1 if kind == "code" else np.nan))
                old = of_blocks(growing.view[before : before + rows], block, kind)
                first = np.concatenate((growing.view[:before], old))
                for _ in range(merged):
                    first = of_two(first, kind)
                growing.begin_with(first, before + rows)
        self.rows = self._time.used
        del self.gaps[:-MOST_GAPS]
        self._pyramids.clear()
        self._heads.clear()

    def index_of(self, row: int) -> int:
        """Where a sample of the run is among the ``rows``, or the entry that stands for it."""
        return self.thinning.index_of(row)

    def _take_channel(self, name: str, added: NDArray[np.generic]) -> None:
        colour = name.partition(".")[0] == "colour"
        growing = self._channels.get(name)
        self._sent.add(name)
        if growing is None:
            growing = self._channels[name] = Growing(np.int64 if colour else np.float64)
            growing.extend(np.full(self.rows - len(added), -1 if colour else np.nan))
        growing.extend(_clean(added))

    def _take_drive(self, columns: Columns, start: int, stop: int) -> None:
        self._take_time(
            columns["t_us"][start:stop], columns["arrival_us"], columns.get("boot", np.zeros(stop))[start:stop], start
        )
        dist, heading = columns.get("dist"), columns.get("heading")
        unknown = np.full(stop - start, np.nan)
        self._take_way(
            unknown if dist is None else np.clip(np.asarray(dist[start:stop], dtype=np.float64), -LARGEST, LARGEST),
            unknown if heading is None else np.asarray(heading[start:stop], dtype=np.float64),
        )
        self.rows += stop - start
        self.taken += stop - start

    def _take_long(self, name: str, column: BlockColumn) -> None:
        """A column of a run of hours: colours fit a byte each and are looked at here and there, the others stay aside."""
        if name.partition(".")[0] != "colour":
            self._long[name] = column
            return
        codes = self._channels[name] = Growing(np.int8)
        for start, stop in pieces(len(column)):
            codes.extend(column[start:stop])

    @property
    def usual_s(self) -> float:
        """The longer of the pauses usual at the beginning of this run, for samples may come in bursts; 0: too few."""
        if self._usual_s is None:
            steps = np.diff(self.time_s[:USUAL_OVER])
            usual = float(np.percentile(steps, 90)) if len(steps) >= 2 else 0.0
            if self.rows < USUAL_OVER:
                return usual
            self._usual_s = usual
        return self._usual_s

    def broken(self, rows: NDArray[np.int64], axis: str) -> NDArray[np.bool_]:
        """Whether something is missing between each of these samples and the next."""
        time_s, way_cm = self.time_s, self.way_cm
        # A robot may send less often while it drives: what is usual on both sides of a pause counts, too.
        before = time_s[rows] - time_s[np.maximum(rows - 1, 0)]
        after = time_s[np.minimum(rows + 2, self.rows - 1)] - time_s[rows + 1]
        after = np.where(rows + 2 < self.rows, after, before)
        usual = np.maximum(np.minimum(before, after), self.usual_s)
        most = np.where(rows < self.thinning.old, np.inf, GAP_S)  # the old entries of a live run stand far apart
        longest = np.minimum(most, LINES_MISSING * usual) if self.usual_s else GAP_S
        out = time_s[rows + 1] - time_s[rows] > longest
        return out | (way_cm[rows + 1] - way_cm[rows] > GAP_CM) if axis == WAY else out

    def _take_time(
        self, t_us: NDArray[np.generic], arrival: NDArray[np.generic], boot: NDArray[np.generic], first: int
    ) -> None:
        """``arrival``: of all rows, these begin at ``first``; it is asked only where the robot restarted."""
        t = np.asarray(t_us, dtype=np.int64)
        boots = np.asarray(boot, dtype=np.int64)
        if self._start_us is None:
            self._start_us = self._last_us = int(t[0])
            self._last_arrival_us, self._last_boot = int(arrival[first]), int(boots[0])
        before = np.concatenate(([self._last_boot], boots[:-1]))
        shifts = np.full(len(t), self._shift_us, dtype=np.int64)
        for row in np.flatnonzero(boots != before):
            last_shown = self._last_us if row == 0 else int(t[row - 1] + shifts[row - 1])
            away = int(arrival[first + int(row)]) - (int(arrival[first + int(row) - 1]) if row else self._last_arrival_us)
            shifts[row:] = last_shown + max(away, 1000) - int(t[row])
        shown = np.maximum.accumulate(np.maximum(t + shifts, self._last_us))
        steps = np.diff(np.concatenate(([self._last_us], shown))) / 1e6
        self.gaps += [(self.taken + int(row), float(steps[row])) for row in np.flatnonzero(steps > GAP_S)]
        self._time.extend((shown - self._start_us) / 1e6)
        self._shift_us, self._last_us = int(shifts[-1]), int(shown[-1])
        self._last_arrival_us, self._last_boot = int(arrival[first + len(t) - 1]), int(boots[-1])

    def _take_way(self, dist: FloatArray, heading: FloatArray) -> None:
        """From the robot's distance: the speed over the last moments, the way driven, and the path on the plane.

        Noise of the distance must not add up while the robot stands, so a step counts in the direction of the speed.
        """
        known = np.isfinite(dist)
        held = dist
        if not known.all():
            index = np.where(known, np.arange(len(dist)), -1)
            np.maximum.accumulate(index, out=index)
            held = np.where(index >= 0, dist[np.maximum(index, 0)], self._last_dist)
        step = np.diff(np.concatenate(([self._last_dist], held)))
        step = np.where(np.isfinite(step), step, 0.0)
        step[np.abs(step) > NEW_LEG_CM] = 0.0
        before = len(self._odometer)
        driven = float(self._odometer[-1]) if before else 0.0
        odometer = np.concatenate((self._odometer, driven + np.cumsum(step)))
        time_s = self.time_s[self._speed.used - before :]
        then = np.searchsorted(time_s, time_s[before:] - SPEED_OVER_S)
        lasted = np.maximum(time_s[before:] - time_s[then], 1e-3)
        speed = (odometer[before:] - odometer[then]) / lasted
        speed[time_s[before:] - time_s[then] < SPEED_OVER_S / 3] = 0.0
        self._speed.extend(speed)
        self._odometer = odometer[np.searchsorted(time_s, time_s[-1] - SPEED_OVER_S) :].copy()
        forward = np.where(np.abs(speed) > STANDING_CM_S, step * np.sign(speed), 0.0)
        way = _last(self._way) + np.cumsum(forward)
        self._way.extend(np.maximum.accumulate(np.maximum(way, _last(self._way))))
        self._last_dist = float(held[-1])
        angle = np.deg2rad(np.nan_to_num(heading))
        x, y = self._place[0] + np.cumsum(step * np.cos(angle)), self._place[1] + np.cumsum(step * np.sin(angle))
        self._place = (float(x[-1]), float(y[-1]))
        self._path_x.extend(x)
        self._path_y.extend(y)

    def level(self, name: str, axis: str, start: float, end: float, columns: int) -> PyramidLevel | None:
        """Where to take a trace from for a picture of ``columns`` columns: all samples, or a coarser level of them."""
        values = self.channel(name)
        if values is None:
            return None
        x = self.axis(axis)
        first, behind = np.searchsorted(x, (start, end)).tolist()
        number = 0
        if behind - first > columns * 64:
            heads = self._heads_of(axis)
            number = heads.level_for(start, end, columns)
        if number:
            pyramid = self._pyramid(name)
            return PyramidLevel(heads.levels[number], pyramid.lows[number - 1], pyramid.highs[number - 1])
        if name not in self._long:
            return PyramidLevel(x, values, values)
        # Only what is in view, and a sample on each side of it.
        first, behind = max(first - 1, 0), min(behind + 1, len(x))
        shown = _clean(values[first:behind])
        return PyramidLevel(x[first:behind], shown, shown)

    def _pyramid(self, name: str) -> Pyramid:
        if name not in self._pyramids:
            self._pyramids[name] = Pyramid(self.channel(name), _clean if name in self._long else None)  # type: ignore[arg-type]
        return self._pyramids[name]

    def _heads_of(self, axis: str) -> Heads:
        if axis not in self._heads:
            self._heads[axis] = Heads(self.axis(axis))
        return self._heads[axis]

    def row_at(self, axis: str, value: float) -> int:
        """The row nearest to ``value`` on ``axis``; -1 without rows."""
        x = self.axis(axis)
        if not len(x):
            return -1
        after = int(np.searchsorted(x, value))
        if after == 0:
            return 0
        if after == len(x):
            return len(x) - 1
        return after if x[after] - value < value - x[after - 1] else after - 1
