"""What a picture of one run shows, from its recording and what a strategy took."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from telemetry.course import Course
from telemetry.palette import Palette
from telemetry.recording.load import Recording
from telemetry.replay.header import palette_for, plan_for
from telemetry.replay.log import ONLY_LABELS, RunLog
from telemetry.replay.runner import Runner, Shared
from telemetry.replay.scoring.results import Result
from telemetry.report.page.pictures import Band, RunPicture
from telemetry.sample import sensor_channel

COLUMNS = 480
"""Columns of a picture: enough for a printed page, few enough that a page of many runs stays small."""
HALF_WIDTH_CM = 1.5
"""Half of a marker whose width the course does not say."""

Floats = NDArray[np.float64]


def picture_of(recording: Recording, result: Result, palette: Palette | None = None) -> RunPicture:
    """The longest stretch of the run, thinned to COLUMNS: every column shows one sample, so no value is made up."""
    course = recording.course
    table = recording.table
    if course is None or not table.rows:
        return RunPicture(0.0, {})
    colours = palette_for(table, course, palette, recording.meta.palette)
    shared = Shared()
    runner = Runner(plan_for(ONLY_LABELS, course, colours, table), shared)
    runner.advance(table)
    runner.finish()
    log = RunLog(runner, table, shared)
    start, stop = log.start, log.stop
    if stop - start < 2:
        return RunPicture(0.0, {})
    rows = np.unique(np.linspace(start, stop - 1, min(COLUMNS, stop - start)).round().astype(np.int64))
    t_s = (table.columns["t_us"][start:stop] - table.columns["t_us"][start]).astype(np.float64) / 1e6
    seen = np.asarray(log.seen(0)[start:stop], dtype=np.int64)
    return RunPicture(
        float(t_s[-1]), _lines(recording, course, rows), _seen(seen, log.names),
        *_slots_and_taken(course, log, result, start, stop - start), _wrong(result),
    )  # fmt: skip


def _lines(recording: Recording, course: Course, rows: NDArray[np.int64]) -> dict[str, list[float]]:
    """Raw channels, else reflectance, each scaled by the largest value of all."""
    columns = recording.table.columns
    sensor = course.sensors[0].name
    named = {name: sensor_channel(columns, name, sensor) for name in ("red", "green", "blue")}
    if None in named.values():
        named = {"refl": sensor_channel(columns, "refl", sensor)}
    values = {name: np.asarray(columns[key], dtype=np.float64)[rows] for name, key in named.items() if key is not None}
    finite = [column[np.isfinite(column)] for column in values.values()]
    largest = max((float(column.max()) for column in finite if column.size), default=0.0)
    return {name: (column / largest).clip(0, 1).tolist() for name, column in values.items()} if largest > 0 else {}


def _seen(labels: NDArray[np.int64], names: tuple[str, ...]) -> list[Band]:
    """Stretches of one label, as parts of the whole."""
    edges = np.flatnonzero(np.diff(labels)) + 1
    bounds = [0, *edges.tolist(), len(labels)]
    return [
        Band(a / len(labels), b / len(labels), names[labels[a]])
        for a, b in pairwise(bounds)
        if labels[a] >= 0
    ]


def _slots_and_taken(
    course: Course, log: RunLog, result: Result, start: int, rows: int
) -> tuple[list[Band], list[Band]]:
    truth = result.run.truth
    slots, taken = [], []
    for index, (slot, reading) in enumerate(zip(course.slots, result.taken.slots, strict=True)):
        passed: list[int] = []
        if slot.at_cm is not None and log.has_places(slot.sensor):
            half = (slot.width_cm or 2 * HALF_WIDTH_CM) / 2
            passed = log.rows_between(slot.sensor, slot.leg, (slot.at_cm - half) * 100, (slot.at_cm + half) * 100).tolist()
        if passed:
            stood = f": {truth[index]}" if truth else ""
            band = Band((passed[0] - start) / rows, (passed[-1] + 1 - start) / rows, f"{slot.name}{stood}")
            slots.append(band)
            taken.append(Band(band.start, band.stop, reading.colour or "not read"))
        else:
            at = 1.0 if reading.row is None else min(max((reading.row - start) / rows, 0.0), 1.0)
            taken.append(Band(at, at, reading.colour or "not read"))
    return slots, taken


def _wrong(result: Result) -> frozenset[int]:
    if result.score is None:
        return frozenset()
    return frozenset(index for index, slot in enumerate(result.score.slots) if slot != "right")
