"""Which columns and which palette of a run a strategy is made for."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from telemetry.block_column import first_row, pieces
from telemetry.course import NONE, Course
from telemetry.palette import Palette
from telemetry.palette_default import TYPICAL, default_palette, full_scale
from telemetry.reading.plan import Plan, colour_names, make_plan
from telemetry.reading.strategy import Strategy
from telemetry.sample import SampleTable, sensor_channel


def usable_columns(table: SampleTable, course: Course) -> tuple[tuple[str, ...], bool]:
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
        first_colour = first_row([table.columns[colour]], table.rows, lambda shown: shown >= 0)
        first_raw = first_row([table.columns[name] for name in raw if name], table.rows, _all_told)
        if first_raw < first_colour:
            empty.add(colour)
        settled = settled and min(first_raw, first_colour) < table.rows
    return tuple(name for name in table.columns if name not in empty), settled


def _all_told(*raw: NDArray[np.generic]) -> NDArray[np.bool_]:
    told: NDArray[np.bool_] = np.logical_and.reduce([np.isfinite(np.asarray(one, dtype=np.float64)) for one in raw])
    return told


def plan_for(strategy: Strategy, course: Course, palette: Palette, table: SampleTable) -> Plan:
    """A strategy made ready for a run. Raises StrategyError where it cannot be built for this course."""
    return make_plan(strategy, course, palette, usable_columns(table, course)[0], table.colours)


def palette_for(
    table: SampleTable, course: Course | None, given: Palette | None, written: str = "", where: str = "palette"
) -> Palette:
    """The palette of a run: the one given, else the one written in its recording, else the built-in one.

    The built-in palette is scaled to the channels' ranges (or, where the stream does not say them, to what the values look
    like), and only has the colours that may stand on the course or that the stream names, and the uncoloured ones.
    """
    if given is not None:
        return given
    if written:
        return _written(written, where)
    ranges = dict(table.ranges)
    untold = [channel for channel in ("red", "green", "blue") if channel not in ranges]
    if untold:
        sent = [column for name, column in table.columns.items() if name.split(".")[0] in {"red", "green", "blue"}]
        guessed = (0.0, full_scale(_largest(sent, table.rows)) if sent else 1023.0)
        ranges |= dict.fromkeys(untold, guessed)
    wanted = {NONE, "black", "white", "grey", *table.colours, *(course.colours if course else TYPICAL)}
    wanted |= {decoy.colour for decoy in course.decoys} if course else set()
    return _built_in(tuple(sorted(ranges.items())), frozenset(wanted))


def _largest(columns: list[NDArray[np.generic]], rows: int) -> NDArray[np.float64]:
    """The largest value of each stretch in which anything was sent."""
    out = []
    for column in columns:
        for start, stop in pieces(rows):
            values = np.asarray(column[start:stop], dtype=np.float64)
            out += [float(np.max(values, initial=-np.inf, where=np.isfinite(values)))]
    return np.array([value for value in out if value > -np.inf])


# Cached, so that runs alike share one palette, and a shelf of plans sees that they do.
@lru_cache(maxsize=64)
def _built_in(ranges: tuple[tuple[str, tuple[float, float]], ...], wanted: frozenset[str]) -> Palette:
    palette = default_palette(dict(ranges))
    return replace(palette, colours=tuple(colour for colour in palette.colours if colour.name in wanted))


@lru_cache(maxsize=64)
def _written(text: str, where: str) -> Palette:
    from telemetry.palette_file import palette_from

    return palette_from(text, where)


class PlanShelf:
    """Plans kept for the next run of the same kind: making one costs more than replaying a short run."""

    MOST = 200

    def __init__(self) -> None:
        self._plans: dict[object, tuple[Plan, object]] = {}
        self._names: dict[object, tuple[tuple[str, ...], object]] = {}

    def plan(
        self, strategy: Strategy, course: Course, palette: Palette, table: SampleTable,
        columns: tuple[str, ...] | None = None,
    ) -> Plan:  # fmt: skip
        """As ``plan_for``; the plan is set back, and is the caller's until the next call. Raises StrategyError.

        ``columns``: those of ``usable_columns``, where they are known already.
        """
        columns = columns or usable_columns(table, course)[0]
        # Not the stream's own order of colours, which changes from run to run, but the numbers that they get.
        key = (id(strategy), id(course), id(palette), columns, self._colour_names(course, palette, table.colours))
        if key not in self._plans:
            if len(self._plans) >= self.MOST:
                self._plans.clear()
            # What the key names by its address is kept, so that no address is given out twice.
            self._plans[key] = make_plan(strategy, course, palette, columns, table.colours), (strategy, course, palette)
        plan, _ = self._plans[key]
        plan.reset()
        return plan

    def _colour_names(self, course: Course, palette: Palette, sent: tuple[str, ...]) -> tuple[str, ...]:
        key = (id(course), id(palette), sent)
        if key not in self._names:
            if len(self._names) >= self.MOST:
                self._names.clear()
            self._names[key] = colour_names(course, palette, sent), (course, palette)
        return self._names[key][0]
