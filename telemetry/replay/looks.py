"""What the palette makes of every sample: the stage ``nearest`` over whole columns at once, for pictures of a run."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from telemetry.block_column import LONG_ROWS, in_threads
from telemetry.course import NONE, Course, Group, GroupRule, Leg, Sensor, Slot
from telemetry.palette import Palette
from telemetry.reading.portable.label import BRIGHTEST
from telemetry.reading.strategy import Strategy, Use
from telemetry.replay.header import plan_for
from telemetry.sample import MISSING, SampleTable, sensor_channel, whole

Ints = NDArray[np.int64]
Labels = NDArray[np.signedinteger[Any]]

_NEAREST = Strategy("nearest", "Nearest", "The palette's nearest colour, nothing more.", (Use("nearest"),))
BLOCK = 1 << 14
"""Samples at a time: what is worked out of them stays in a processor's cache."""


class Looks:
    """Made for one palette and one header. ``names``: what the labels mean, 0 is none."""

    def __init__(self, palette: Palette, course: Course | None, table: SampleTable) -> None:
        where = course or _any_course(palette, table)
        plan = plan_for(_NEAREST, where, palette, table)
        self.names: tuple[str, ...] = plan.names
        self._stages = {where.sensors[chain.sensor].name: chain.stages[1] for chain in plan.chains}

    def labels(self, table: SampleTable, sensor: str, start: int = 0) -> Labels | None:
        """The label of every row from ``start`` on, -1 where a raw value is missing; None where none are sent."""
        stage = self._stages.get(sensor) or next(iter(self._stages.values()))
        channels = [sensor_channel(table.columns, name, sensor) for name in ("red", "green", "blue")]
        if None in channels:
            return None
        raw = [table.columns[name] for name in channels if name is not None]
        out: Labels = np.empty(table.rows - start, dtype=np.int64 if table.rows < LONG_ROWS else np.int8)

        def label(number: int) -> None:
            begin, end = start + number * BLOCK, min(start + (number + 1) * BLOCK, table.rows)
            out[begin - start : end - start] = nearest_labels(stage, [whole(column[begin:end]) for column in raw])

        in_threads(label, range(-(-len(out) // BLOCK)))
        return out


def nearest_labels(stage: object, raw: Sequence[Ints]) -> Ints:
    """``Nearest.step`` for many samples: the same whole numbers, hence the same labels. ``raw``: red, green, blue.

    Whole numbers of 32 bits where all fit into them, and one division by floats, which is exact (they hold 53 bits).
    """
    black = [getattr(stage, f"black_{name}") for name in ("red", "green", "blue")]
    level, limit, table = stage.level, stage.limit, stage.palette  # type: ignore[attr-defined]
    largest = max(BRIGHTEST, level, limit, *map(abs, table), *map(abs, black))
    kind = np.int32 if largest <= BRIGHTEST else np.int64
    told = np.logical_and.reduce([(column >= 0) & (column != MISSING) for column in raw])
    above = [
        np.maximum(np.minimum(column, BRIGHTEST) - dark, 0).astype(kind) for column, dark in zip(raw, black, strict=True)
    ]
    total = above[0] + above[1] + above[2]
    lit = np.maximum(total, 1)
    shares = [channel * kind(1000) // lit for channel in above]
    least = np.full(len(total), limit, kind)
    best = np.zeros(len(total), np.int64)
    away, part, ratio = np.empty_like(total), np.empty_like(total), np.empty(len(total))
    for k in range(0, len(table), 5):
        label, *mine, other = table[k : k + 5]
        np.abs(np.subtract(total, other, out=part), out=part)
        part *= 1000
        np.divide(part, np.maximum(lit, other, out=away), out=ratio)
        away[:] = ratio
        away *= level
        away //= 100
        for share, its in zip(shares, mine, strict=True):
            away += np.abs(np.subtract(share, its, out=part), out=part)
        np.copyto(best, label, where=away < least)
        np.minimum(away, least, out=least)
    best[total == 0] = 0
    best[~told] = -1
    return best


def _any_course(palette: Palette, table: SampleTable) -> Course:
    """A stand-in where no course is known: the palette's colours on every sensor."""
    suffixes = dict.fromkeys(name.partition(".")[2] for name in table.columns if name.split(".")[0] == "red")
    sensors = tuple(Sensor(suffix) for suffix in suffixes) or (Sensor(),)
    colours = tuple(name for name in palette.names if name != NONE) or ("white",)
    return Course("", (Leg("way"),), sensors, (Group("any", GroupRule.ANY, colours),), (Slot("1", 0, 0, 0),))
