"""What a run's samples show over each slot, apart from any strategy: how many, how clear, which level, which codes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from telemetry.course import Course
from telemetry.palette import CHANNELS
from telemetry.sample import MISSING, IntColumn, Table, sensor_channel

Floats = NDArray[np.float64]

USUAL_HALF_CM = 1.5
OFF_CM = 1.5
"""A marker is looked for up to so far from its place: where the signal departs most from the field."""
INNER = 0.6
"""The part of a marker's width, around its middle, that is taken for its level: no edges."""


@dataclass(frozen=True, slots=True)
class SlotSeen:
    """One slot. ``samples`` over its marker; ``level`` (4,) in the order of CHANNELS, NaN where not sent; ``contrast``: how far
    that is from the field, in deviations of one sample; ``saturated``: share of samples with a channel at full scale;
    ``codes``: name -> samples.
    """

    samples: int = 0
    level: Floats = field(default_factory=lambda: np.full(4, np.nan))
    contrast: float = 0.0
    saturated: float = 0.0
    codes: Counter[str] = field(default_factory=Counter)


@dataclass(frozen=True, slots=True)
class Seen:
    """``slots``: one a slot, None where the robot's place is not known or it never passed. ``fields``: (leg, sensor) -> (4,)."""

    slots: tuple[SlotSeen | None, ...]
    fields: dict[tuple[int, int], Floats]


def seen(table: Table, course: Course, walked: Callable[[int], tuple[IntColumn, IntColumn]], start: int, stop: int) -> Seen:
    """``walked(sensor)``: leg and place (0.1 mm) of the rows ``start`` to ``stop``, which are those that count."""
    slots: list[SlotSeen | None] = [None] * len(course.slots)
    fields: dict[tuple[int, int], Floats] = {}
    for sensor, one in enumerate(course.sensors):
        legs, places = walked(sensor)
        raw = _channels(table, one.name)[start:stop]
        code = sensor_channel(table.columns, "colour", one.name)
        codes = np.full(stop - start, -1) if code is None else np.asarray(table.columns[code][start:stop], dtype=np.int64)
        full = _full(table, raw)
        for leg in range(len(course.legs)):
            here = (legs == leg) & (places != MISSING)
            marks = [
                (i, slot.at_cm, (slot.width_cm or 2 * USUAL_HALF_CM) / 2)
                for i, slot in enumerate(course.slots)
                if (slot.leg, slot.sensor) == (leg, sensor) and slot.at_cm is not None and not slot.unseen
            ]
            if not here.any() or not marks:
                continue
            place, values = places[here] / 100.0, raw[here]
            away = np.min([np.abs(place - at) - half for _, at, half in marks], axis=0)
            bare = away > OFF_CM
            ground = values[bare] if bare.sum() >= 10 else values
            known = np.isfinite(ground).any(axis=0)
            level, spread = np.full(4, np.nan), np.full(4, np.nan)
            if known.any():
                level[known] = np.nanmedian(ground[:, known], axis=0)
                spread[known] = np.nanmedian(np.abs(ground[:, known] - level[known]), axis=0) / 0.6745 + 0.3
            fields[leg, sensor] = level
            for i, at, half in marks:
                shown = codes[here], full[here]
                slots[i] = _slot(place, values, (level, spread), shown, (at, half), table.colours)
    return Seen(tuple(slots), fields)


def _slot(
    place: Floats, values: Floats, ground: tuple[Floats, Floats], shown: tuple[IntColumn, NDArray[np.bool_]],
    where: tuple[float, float], names: tuple[str, ...],
) -> SlotSeen:  # fmt: skip
    (level, spread), (codes, full), (at, half) = ground, shown, where
    over = np.abs(place - at) <= half
    counts = Counter(names[code] for code in codes[over].tolist() if code >= 0)
    known = np.isfinite(spread)
    if not over.any() or not known.any():
        return SlotSeen(int(over.sum()), codes=counts)
    departs = np.abs((values - level) / spread)[:, known].mean(axis=1)
    best, found, contrast = over, np.full(4, np.nan), -1.0
    for off in np.arange(-OFF_CM, OFF_CM + 0.01, 0.25):
        inner = np.abs(place - at - off) <= INNER * half
        inner &= np.isfinite(departs)
        if inner.any() and float(np.median(departs[inner])) - 0.1 * abs(off) > contrast:
            contrast = float(np.median(departs[inner])) - 0.1 * abs(off)
            best = inner
    if contrast >= 0.0:
        found[known] = np.nanmedian(values[best][:, known], axis=0)
    return SlotSeen(int(over.sum()), found, max(contrast, 0.0), float(full[over].mean()), counts)


def _channels(table: Table, sensor: str) -> Floats:
    out = np.full((table.rows, 4), np.nan)
    for c, name in enumerate(CHANNELS):
        channel = sensor_channel(table.columns, name, sensor)
        if channel is not None:
            out[:, c] = np.asarray(table.columns[channel][: table.rows], dtype=np.float64)
    return out


def _full(table: Table, raw: Floats) -> NDArray[np.bool_]:
    out = np.zeros(len(raw), dtype=bool)
    for c, name in enumerate(CHANNELS[:3]):
        top = table.ranges.get(name, (0.0, np.inf))[1]
        out |= raw[:, c] >= top - 0.5
    return out
