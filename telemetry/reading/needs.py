"""What a strategy asks of a run, and the sentence that says what is missing."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from telemetry.block_column import first_row
from telemetry.course import LegStart
from telemetry.reading.layout import Layout
from telemetry.sample import QUANTITIES, SampleTable, sensor_channel

Has = frozenset[str]
STILL_CM_S: Final = 0.5
"""Up to this speed the robot is standing."""
STOP_US: Final = 200_000
"""Shorter than this is no stop to look."""
TURN_DEG: Final = 20.0
"""More than this while standing is a turn on the spot; less is the gyro's drift."""


def channels_of(columns: Iterable[str], sensor: str) -> Has:
    """The quantities that ``columns`` hold for a sensor."""
    return _channels_of(tuple(columns), sensor)


@lru_cache(maxsize=256)
def _channels_of(columns: tuple[str, ...], sensor: str) -> Has:
    known = dict.fromkeys(columns)
    return frozenset(quantity for quantity in QUANTITIES if sensor_channel(known, quantity, sensor))


def run_has(table: SampleTable) -> Has:
    """What a run has: its columns that hold anything, ``note:TEXT`` for each note, ``stop:1``, ``stop:2``... a stop."""
    has = {f"note:{note.text.strip()}" for note in table.notes}
    for name, column in table.columns.items():
        filled = _shown if name == "colour" or name.startswith("colour.") else _finite
        if first_row([column], table.rows, filled) < table.rows:
            has.add(name)
    has |= {f"stop:{k}" for k in range(1, _stops(table) + 1)}
    return frozenset(has)


def _shown(values: NDArray[np.float64]) -> NDArray[np.bool_]:
    return values >= 0


def _finite(values: NDArray[np.float64]) -> NDArray[np.bool_]:
    finite: NDArray[np.bool_] = np.isfinite(np.asarray(values, dtype=np.float64))
    return finite


def _stops(table: SampleTable) -> int:
    """How often did the robot stand still for 0.2 s or more between two stretches of driving?

    Where it turned in that time it stood to turn, not to look: that is none. A distance that is only told in coarse steps
    does not stand still between two of them: a stop is three times as long as what usually lies between two steps.
    """
    if table.rows < 3:
        return 0
    t_us = np.asarray(table.columns["t_us"][: table.rows], dtype=np.int64)
    heading = _column(table, "heading")
    known = np.isfinite(_column(table, "dist"))
    if int(known.sum()) >= 3:
        moving = np.abs(np.diff(_column(table, "dist")[known])) > 0.02
    else:
        speed = _column(table, "speed")
        known = np.isfinite(speed)
        moving = np.abs(speed[known][1:]) > STILL_CM_S
    if not known.all():
        t_us, heading = t_us[known], heading[known]
    moved = np.flatnonzero(moving)
    if len(moved) < 2:
        return 0
    first, last = moved[:-1] + 1, moved[1:]
    lengths = t_us[last] - t_us[first]
    if lengths.max() < STOP_US:
        return 0
    usual = float(np.median(t_us[last + 1] - t_us[first]))
    stood = np.flatnonzero(lengths >= max(STOP_US, 3 * usual))
    return sum(_turned_deg(heading[first[k] : last[k] + 1]) <= TURN_DEG for k in stood)


def _column(table: SampleTable, name: str) -> NDArray[np.float64]:
    """The column's rows; NaN all through where there is none."""
    column = table.columns.get(name)
    return np.full(table.rows, np.nan) if column is None else np.asarray(column[: table.rows], dtype=np.float64)


def _turned_deg(heading: NDArray[np.float64]) -> float:
    known = heading[np.isfinite(heading)]
    if not len(known):
        return 0.0
    goes_round = len(known) > 1 and bool((np.abs(known[1:] - known[:-1]) >= 180.0).any())
    unwrapped = np.unwrap(known, period=360.0) if goes_round else known
    return float(unwrapped.max() - unwrapped.min())


def _legs(layout: Layout) -> str:
    for leg in layout.course.legs[1:]:
        if leg.starts is LegStart.HEADING and "heading" not in layout.channels:
            return f"the heading, by which leg '{leg.name}' starts"
        if leg.starts in (LegStart.RESET, LegStart.REVERSE) and "dist" not in layout.channels:
            return f"a distance, by which leg '{leg.name}' starts"
    return ""


def _places(layout: Layout) -> str:
    for number in layout.mine:
        if layout.course.slots[number].at_cm is None:
            return f"the place of every slot, and the course does not say where {layout.course.slots[number].name} is"
    return "" if "dist" in layout.channels else "a distance"


def _channel(*names: str, words: str) -> Callable[[Layout], str]:
    return lambda layout: "" if layout.channels.issuperset(names) else words


def _label(layout: Layout) -> str:
    raw = layout.channels.issuperset({"red", "green", "blue"})
    return "" if raw or "colour" in layout.channels else "the sensor's colour or its raw red, green and blue"


NEEDS: Final[dict[str, Callable[[Layout], str]]] = {
    "label": _label,
    "colour": _channel("colour", words="the sensor's own colour"),
    "raw": _channel("red", "green", "blue", words="raw red, green and blue"),
    "dist": _channel("dist", words="a distance"),
    "speed": lambda layout: "" if layout.channels & {"dist", "speed"} else "a distance or a speed",
    "heading": _channel("heading", words="a heading"),
    "places": _places,
    "legs": _legs,
    "stop": lambda layout: "",
    "note": lambda layout: "",
}
"""Need -> what of it a layout lacks, in words after 'needs '; empty where nothing is lacking.
'stop' and the notes' texts are looked up in what the run has, see Plan.lacks."""

