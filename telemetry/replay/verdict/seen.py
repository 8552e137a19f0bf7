"""What a run's samples show over each slot, apart from any strategy: how many, how clear, which level, which codes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from telemetry.course import Course
from telemetry.palette import CHANNELS
from telemetry.sample import MISSING, IntColumn, SampleTable, sensor_channel

Floats = NDArray[np.float64]

USUAL_HALF_CM = 1.5
OFF_CM = 1.5
"""A marker is looked for up to so far from its place: where the signal departs most from the field."""
INNER = 0.6
"""The part of a marker's width, around its middle, that is taken for its level: no edges."""


@dataclass(frozen=True, slots=True)
class SlotSeen:
    """One slot. ``samples`` over its marker; ``level`` (4,) in the order of CHANNELS, NaN where not sent.

    ``contrast``: how far that is from the field, in deviations of one sample; ``saturated``: share of samples with a
    channel at full scale; ``codes``: name -> samples.
    """

    samples: int = 0
    level: Floats = field(default_factory=lambda: np.full(4, np.nan))
    contrast: float = 0.0
    saturated: float = 0.0
    codes: Counter[str] = field(default_factory=Counter)


@dataclass(frozen=True, slots=True)
class Seen:
    """``slots``: one a slot, None where its place is not known or was never passed. ``fields``: the empty field's level
    (4,) on each leg of each sensor.
    """

    slots: tuple[SlotSeen | None, ...]
    fields: tuple[Floats, ...]


@dataclass(frozen=True, slots=True)
class _Leg:
    """The samples of one leg and sensor. ``place`` cm; ``values`` (n, 4); ``codes`` -1 missing; ``full``: at full scale.

    ``field`` and ``noise`` (4,): level and deviation of the empty field.
    """

    place: Floats
    values: Floats
    codes: IntColumn
    full: NDArray[np.bool_]
    field: Floats
    noise: Floats


def seen(
    table: SampleTable, course: Course, walked: Callable[[int], tuple[IntColumn, IntColumn]], start: int, stop: int
) -> Seen:
    """``walked(sensor)``: leg and place (0.1 mm) of the rows ``start`` to ``stop``, which are those that count."""
    slots: list[SlotSeen | None] = [None] * len(course.slots)
    fields: list[Floats] = []
    for sensor, one in enumerate(course.sensors):
        legs, places = walked(sensor)
        raw = _channels(table, one.name)[start:stop]
        code = sensor_channel(table.columns, "colour", one.name)
        codes = np.full(stop - start, -1) if code is None else np.asarray(table.columns[code][start:stop], dtype=np.int64)
        full = _full(table, raw)
        for number in range(len(course.legs)):
            here = (legs == number) & (places != MISSING)
            marks = [
                (i, slot.at_cm, (slot.width_cm or 2 * USUAL_HALF_CM) / 2)
                for i, slot in enumerate(course.slots)
                if (slot.leg, slot.sensor) == (number, sensor) and slot.at_cm is not None and not slot.unseen
            ]
            if not here.any() or not marks:
                continue
            place = places[here] / 100.0
            away = np.min([np.abs(place - at) - half for _, at, half in marks], axis=0)
            level, noise = _ground(raw[here], away > OFF_CM)
            leg = _Leg(place, raw[here], codes[here], full[here], level, noise)
            fields.append(level)
            for i, at, half in marks:
                slots[i] = _slot(leg, at, half, table.colours)
    return Seen(tuple(slots), tuple(fields))


def _ground(values: Floats, bare: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Level and deviation of the field, NaN for a channel that was not sent."""
    ground = values[bare] if bare.sum() >= 10 else values
    level, noise = np.full(4, np.nan), np.full(4, np.nan)
    sent = np.isfinite(ground).any(axis=0)
    if sent.any():
        level[sent] = np.nanmedian(ground[:, sent], axis=0)
        # 0.6745: the median absolute deviation of a normal one; 0.3: counts are whole.
        noise[sent] = np.nanmedian(np.abs(ground[:, sent] - level[sent]), axis=0) / 0.6745 + 0.3
    return level, noise


def _slot(leg: _Leg, at: float, half: float, names: tuple[str, ...]) -> SlotSeen:
    over = np.abs(leg.place - at) <= half
    counts = Counter(names[code] for code in leg.codes[over].tolist() if code >= 0)
    sent = np.isfinite(leg.noise)
    if not over.any() or not sent.any():
        return SlotSeen(int(over.sum()), codes=counts)
    departs = np.abs((leg.values - leg.field) / leg.noise)[:, sent].mean(axis=1)
    level, contrast = np.full(4, np.nan), 0.0
    for off in np.arange(-OFF_CM, OFF_CM + 0.01, 0.25):
        inner = (np.abs(leg.place - at - off) <= INNER * half) & np.isfinite(departs)
        if inner.any() and float(np.median(departs[inner])) - 0.1 * abs(off) > contrast:
            contrast = float(np.median(departs[inner])) - 0.1 * abs(off)
            level[sent] = np.nanmedian(leg.values[inner][:, sent], axis=0)
    return SlotSeen(int(over.sum()), level, contrast, float(leg.full[over].mean()), counts)


def _channels(table: SampleTable, sensor: str) -> Floats:
    out = np.full((table.rows, 4), np.nan)
    for c, name in enumerate(CHANNELS):
        channel = sensor_channel(table.columns, name, sensor)
        if channel is not None:
            out[:, c] = np.asarray(table.columns[channel][: table.rows], dtype=np.float64)
    return out


def _full(table: SampleTable, raw: Floats) -> NDArray[np.bool_]:
    out = np.zeros(len(raw), dtype=bool)
    for c, name in enumerate(CHANNELS[:3]):
        out |= raw[:, c] >= table.ranges.get(name, (0.0, np.inf))[1] - 0.5
    return out
