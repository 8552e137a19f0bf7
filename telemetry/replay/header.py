"""Which columns of a run a strategy is made for."""

from __future__ import annotations

import numpy as np

from telemetry.course import Course
from telemetry.palette import Palette
from telemetry.reading.plan import Plan, make_plan
from telemetry.reading.strategy import Strategy
from telemetry.sample import Table, sensor_channel


def usable_columns(table: Table, course: Course) -> tuple[tuple[str, ...], bool]:
    """The columns of the header, without a colour column that stays empty; and whether more rows can change that no more.

    Live and replay must come to the same answer, so it rests on the first row alone that shows any colour or raw channels:
    where the colour is empty there, the sensor is in another mode and the raw channels are read.
    """
    empty = set()
    settled = True
    for sensor in course.sensors:
        colour = sensor_channel(table.columns, "colour", sensor.name)
        raw = [sensor_channel(table.columns, channel, sensor.name) for channel in ("red", "green", "blue")]
        if colour is None or None in raw:
            continue
        shown = np.asarray(table.columns[colour][: table.rows], dtype=np.int64) >= 0
        told = np.logical_and.reduce(
            [np.isfinite(np.asarray(table.columns[name][: table.rows], dtype=np.float64)) for name in raw if name]
        )
        first_colour = int(shown.argmax()) if shown.any() else table.rows
        first_raw = int(told.argmax()) if told.any() else table.rows
        if first_raw < first_colour:
            empty.add(colour)
        settled = settled and min(first_raw, first_colour) < table.rows
    return tuple(name for name in table.columns if name not in empty), settled


def plan_for(strategy: Strategy, course: Course, palette: Palette, table: Table) -> Plan:
    """A strategy made ready for a run. Raises StrategyError where it cannot be built for this course."""
    return make_plan(strategy, course, palette, usable_columns(table, course)[0], table.colours)
