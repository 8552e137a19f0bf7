"""What a strategy asks of a run, and the sentence that says what is missing."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final

import numpy as np

from telemetry.course import LegStart
from telemetry.reading.layout import Layout
from telemetry.sample import QUANTITIES, Table, sensor_channel

Has = frozenset[str]
STILL: Final = 50
"""Up to 5 mm/s is standing (0.1 mm/s)."""


def channels_of(columns: Iterable[str], sensor: str) -> Has:
    """The quantities that ``columns`` hold for a sensor."""
    known = dict.fromkeys(columns)
    return frozenset(quantity for quantity in QUANTITIES if sensor_channel(known, quantity, sensor))


def run_has(table: Table) -> Has:
    """What a run has: its columns that hold anything, ``note:TEXT`` for each note, ``stop:1``, ``stop:2``... a stop."""
    has = {f"note:{note.text}" for note in table.notes}
    for name, column in table.columns.items():
        values = np.asarray(column[: table.rows], dtype=np.float64)
        filled = values >= 0 if name == "colour" or name.startswith("colour.") else np.isfinite(values)
        if bool(filled.any()):
            has.add(name)
    has |= {f"stop:{k}" for k in range(1, _stops(table) + 1)}
    return frozenset(has)


def _stops(table: Table) -> int:
    """How often did the robot stand still, turning neither, for 0.2 s or more between two stretches of driving?"""
    column = table.columns.get("dist")
    if column is None or table.rows < 3:
        return 0
    dist = np.asarray(column[: table.rows], dtype=np.float64)
    t_us = np.asarray(table.columns["t_us"][: table.rows], dtype=np.int64)
    known = np.isfinite(dist)
    dist, t_us = dist[known], t_us[known]
    moving = np.abs(np.diff(dist)) > 0.02
    if "heading" in table.columns:
        heading = np.asarray(table.columns["heading"][: table.rows], dtype=np.float64)[known]
        moving |= np.abs(np.diff(heading)) > 0.2
    moved = np.flatnonzero(moving)
    if len(moved) < 2:
        return 0
    return int((t_us[moved[1:]] - t_us[moved[:-1] + 1] >= 200_000).sum())


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

