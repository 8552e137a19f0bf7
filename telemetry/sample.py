"""What one sample is: the columns that are kept, and the whole numbers that a reading logic steps on.

Columns are what the robot sent, in one fixed unit per quantity. Whole numbers are made from them in one place, here, with
the same rounding everywhere, so that live view, replay and robot see the same value.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

MISSING: Final = -(1 << 30)
"""The whole number that stands for a value that was not sent. It fits the 31-bit small integers of a board."""
WHOLE_MAX: Final = (1 << 28) - 1
"""The largest whole number a channel may hold, so that sums and differences of a few still fit a board's 31 bits."""
MOST_D: Final = (1 << 24) - 1
"""The farthest distance a logic is told: 1.6 km, in 0.1 mm."""
MOST_V_H: Final = (1 << 20) - 1
"""The greatest speed and heading a logic is told: 104 m/s and 291 turns."""
T_MODULUS_MS: Final = 1 << 30

QUANTITIES: Final[Mapping[str, str]] = {
    "t_us": "us",  # the robot's clock, wraps taken out; int64
    "n": "1",  # running number of the line, wraps taken out; int64, -1 where missing
    "arrival_us": "us",  # when the line arrived, Unix time; int64
    "boot": "1",  # how often the robot has restarted so far in this recording; int64
    "colour": "1",  # index into SampleTable.colours; int16, -1 missing, 0 'none'
    "refl": "%",
    "red": "1",
    "green": "1",
    "blue": "1",
    "heading": "deg",
    "dist": "cm",
    "speed": "cm/s",
    "battery": "V",
    "loop": "ms",
}
"""Every known channel and the unit its column is kept in. Channels not marked otherwise are float64, NaN where missing.
A second sensor is a suffix, ``colour.side``; a further column of the robot keeps the name and unit the robot gave it."""

IntColumn = NDArray[np.int64]
FloatColumn = NDArray[np.float64]
Columns = dict[str, NDArray[np.generic]]
"""Channel name -> one-dimensional array; all of one length."""


@dataclass(frozen=True, slots=True)
class Note:
    """A line ``!t,text`` of the robot's program. ``row``: how many samples came before it in the stream."""

    row: int
    t_us: int
    arrival_us: int
    text: str


@dataclass(frozen=True, slots=True)
class Line:
    """Text that made no sample, kept as it came. ``reason`` is empty for console text (a prompt, an error trace)."""

    row: int
    arrival_us: int
    raw: bytes
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Chunk:
    """What a piece of the stream turned into, in the order of the stream.

    ``columns`` hold the new samples (perhaps none), always with ``t_us``, ``arrival_us`` and ``boot``.
    ``colours`` are all colour names known so far, index 0 is always ``none``; the list only ever grows.
    """

    columns: Columns
    rows: int
    colours: tuple[str, ...]
    notes: tuple[Note, ...] = ()
    rejected: tuple[Line, ...] = ()
    console: tuple[Line, ...] = ()
    remarks: tuple[str, ...] = ()
    """One sentence each, said once: an unknown unit, a restart, a header that changed."""
    lost: int = 0
    """Lines that the running number ``n`` shows as lost in this piece."""
    ranges: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    """All that is known so far; as in SampleTable."""
    units: Mapping[str, str] = field(default_factory=dict)
    """All that is known so far; as in SampleTable."""


@dataclass
class SampleTable:
    """All of a run so far: what the chunks add up to. Live it grows, from a recording it comes whole: the same type.

    ``columns`` are views of growing buffers: what was handed out stays valid and unchanged when more is appended.
    """

    columns: Columns = field(default_factory=dict)
    rows: int = 0
    colours: tuple[str, ...] = ("none",)
    notes: list[Note] = field(default_factory=list)
    rejected: list[Line] = field(default_factory=list)
    console: list[Line] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    ranges: dict[str, tuple[float, float]] = field(default_factory=dict)
    """Channel -> (black level, full scale), where the robot said so."""
    units: dict[str, str] = field(default_factory=dict)
    """Units of further columns that are not in QUANTITIES."""
    lost: int = 0
    """Lines lost on the way, by the running number ``n``; 0 too where the robot sends none."""
    first: int = 0
    """So many rows before those in ``columns`` were forgotten. Rows of notes and lines count from the stream's beginning."""
    _buffers: Columns = field(default_factory=dict, repr=False, compare=False)

    def append(self, chunk: Chunk) -> None:
        """Add what came next. A channel that one side does not have is filled: NaN, or -1 in columns of whole numbers.

        Costs a few microseconds a column, however long the table already is.
        """
        if chunk.rows or not self.columns:
            rows = self.rows + chunk.rows
            for name, piece in chunk.columns.items():
                if name not in self.columns:
                    self.columns[name] = np.full(self.rows, missing_of(piece.dtype), dtype=piece.dtype)
            for name, column in self.columns.items():
                buffer = self._roomy(name, column, rows)
                buffer[self.rows : rows] = chunk.columns.get(name, missing_of(buffer.dtype))
                self.columns[name] = buffer[:rows]
            self.rows = rows
        self.colours = chunk.colours
        self.notes.extend(chunk.notes)
        self.rejected.extend(chunk.rejected)
        self.console.extend(chunk.console)
        self.remarks.extend(chunk.remarks)
        self.ranges.update(chunk.ranges)
        self.units.update(chunk.units)
        self.lost += chunk.lost

    @property
    def stop(self) -> int:
        """The row behind the last one, counted from the stream's beginning."""
        return self.first + self.rows

    def forget(self, before: int) -> None:
        """Let go of the rows before this one, counted from the stream's beginning. Views handed out stay valid."""
        cut = min(max(0, before - self.first), self.rows)
        if cut:
            # Copied, so that the long buffers can go.
            self.columns = {name: column[cut:].copy() for name, column in self.columns.items()}
            self._buffers = {}
            self.first += cut
            self.rows -= cut

    def _roomy(self, name: str, column: NDArray[np.generic], rows: int) -> NDArray[np.generic]:
        buffer = self._buffers.get(name)
        if buffer is not None and len(buffer) >= rows and id(column.base) == id(buffer):
            return buffer
        # Half as much again: each sample is copied about three times in all. Views handed out keep the old buffer.
        roomy: NDArray[np.generic] = np.empty(max(1024, rows + rows // 2), dtype=column.dtype)
        roomy[: self.rows] = column[: self.rows]
        self._buffers[name] = roomy
        return roomy


def missing_of(dtype: np.dtype[np.generic]) -> float | int:
    """What stands for a value that was not sent in a column of this type."""
    return -1 if dtype.kind in "iu" else np.nan


def sensor_channel(columns: Mapping[str, object], quantity: str, sensor: str) -> str | None:
    """The column that carries ``quantity`` for ``sensor``: its own (``colour.side``), else the one without a suffix.

    ``sensor`` is empty where the course names none; then a single suffixed column is taken too. None: not sent.
    """
    if sensor and f"{quantity}.{sensor}" in columns:
        return f"{quantity}.{sensor}"
    if quantity in columns:
        return quantity
    if not sensor:
        suffixed = [name for name in columns if name.startswith(f"{quantity}.")]
        if len(suffixed) == 1:
            return suffixed[0]
    return None


def whole(values: NDArray[np.generic], scale: float = 1.0, most: int = WHOLE_MAX) -> IntColumn:
    """``values * scale`` as whole numbers, half rounded up, clipped to +-``most``; NaN becomes MISSING."""
    scaled = np.floor(np.asarray(values, dtype=np.float64) * scale + 0.5)
    known = np.isfinite(scaled)
    if known.all():
        return np.clip(scaled, -most, most, out=scaled).astype(np.int64)
    out = np.full(scaled.shape, MISSING, dtype=np.int64)
    np.clip(scaled, -most, most, out=scaled, where=known)
    out[known] = scaled[known].astype(np.int64)
    return out


STEPPED: Final = frozenset({"t_us", "dist", "speed", "heading", "refl", "red", "green", "blue", "colour"})
"""The quantities of which ``whole_columns`` makes anything."""


@dataclass(frozen=True, slots=True)
class QuantizedColumns:
    """The samples of one sensor as a reading logic sees them; each array int64 of length ``rows``, MISSING where not sent.

    ``t`` ms modulo 2**30, ``d`` 0.1 mm, ``v`` 0.1 mm/s, ``h`` 0.1 deg, ``refl`` 0.1 %, ``red green blue`` as sent,
    ``code`` the index of the sensor's colour in the names given to ``whole_columns``.
    """

    t: IntColumn
    d: IntColumn
    v: IntColumn
    h: IntColumn
    refl: IntColumn
    red: IntColumn
    green: IntColumn
    blue: IntColumn
    code: IntColumn


def whole_columns(
    columns: Columns, rows: int, sensor: str, stream_colours: tuple[str, ...], names: tuple[str, ...]
) -> QuantizedColumns:
    """Make ``columns`` whole for ``sensor``. Colours are renumbered from the stream's names to ``names`` (the plan's).

    A colour that the plan does not know is 0 = none would hide it, so ``names`` must hold all of ``stream_colours``.
    """

    def pick(quantity: str, scale: float = 1.0, most: int = WHOLE_MAX) -> IntColumn:
        channel = sensor_channel(columns, quantity, sensor)
        return np.full(rows, MISSING, dtype=np.int64) if channel is None else whole(columns[channel], scale, most)

    channel = sensor_channel(columns, "colour", sensor)
    code = np.full(rows, MISSING, dtype=np.int64)
    if channel is not None:
        renumber = np.array([names.index(name) for name in stream_colours], dtype=np.int64)
        raw = np.asarray(columns[channel], dtype=np.int64)
        known = raw >= 0
        code[known] = renumber[raw[known]]
    t = (np.asarray(columns["t_us"], dtype=np.int64) // 1000) % T_MODULUS_MS
    return QuantizedColumns(
        t=t, d=pick("dist", 100.0, MOST_D), v=pick("speed", 100.0, MOST_V_H), h=pick("heading", 10.0, MOST_V_H),
        refl=pick("refl", 10.0),
        red=pick("red"), green=pick("green"), blue=pick("blue"), code=code,
    )
