"""The parts of a run's table that alterations and the model of a robot work on."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from telemetry.sample import SampleTable
from telemetry.tuning.runs import SavedRun

Floats = NDArray[np.float64]
RAW = ("red", "green", "blue")
DRIVING_CM_S = 1.0
"""Slower than this the robot is standing, or turning on the spot."""


def raw_columns(table: SampleTable) -> list[tuple[str, str, str]]:
    """The red, green and blue column of each sensor that sends them."""
    suffixes = [name[len("red") :] for name in table.columns if name.partition(".")[0] == "red"]
    sets = [(f"red{suffix}", f"green{suffix}", f"blue{suffix}") for suffix in suffixes]
    return [names for names in sets if all(name in table.columns for name in names)]


def is_of_sensor(name: str) -> bool:
    """Whether a column says what a colour sensor saw."""
    return name.partition(".")[0] in {"colour", "refl", *RAW}


def values(table: SampleTable, name: str) -> Floats:
    """A column as floats."""
    return np.asarray(table.columns[name][: table.rows], dtype=np.float64)


def black_of(table: SampleTable, name: str) -> float:
    """The channel's black level; 0 where the stream does not say it."""
    return float(table.ranges.get(name, (0.0, 0.0))[0])


def full_of(table: SampleTable, name: str) -> float:
    """The channel's full scale; infinite where the stream does not say it."""
    return float(table.ranges.get(name, (0.0, np.inf))[1])


def times_ms(table: SampleTable) -> Floats:
    """From the first sample."""
    t_us = np.asarray(table.columns["t_us"][: table.rows], dtype=np.int64)
    out: Floats = (t_us - t_us[0]) / 1000.0
    return out


def filled(column: Floats) -> Floats:
    """Missing values taken from between their neighbours; all 0 where nothing is known."""
    known = np.isfinite(column)
    if known.all():
        return column
    if not known.any():
        return np.zeros_like(column)
    rows = np.arange(len(column))
    out: Floats = np.interp(rows, rows[known], column[known])
    return out


def distance_cm(table: SampleTable) -> Floats | None:
    """How far the wheels have gone, rising, steps back to zero and reversing taken out; None where no distance is sent."""
    if "dist" not in table.columns:
        return None
    steps = np.abs(np.diff(filled(values(table, "dist")), prepend=np.nan))
    steps[0] = 0.0
    usual = np.percentile(steps, 99.0) if len(steps) else 0.0
    steps[steps > max(3.0, 10.0 * usual)] = 0.0
    out: Floats = np.cumsum(steps)
    return out


def speed_cm_s(table: SampleTable) -> Floats | None:
    """The speed at each sample, over about 60 ms; None where no distance is sent."""
    way = distance_cm(table)
    if way is None or table.rows < 3:
        return None
    t = times_ms(table)
    low = np.maximum(np.searchsorted(t, t - 30.0), 0)
    high = np.minimum(np.searchsorted(t, t + 30.0), table.rows - 1)
    out: Floats = 1000.0 * (way[high] - way[low]) / np.maximum(t[high] - t[low], 1.0)
    return out


def driving_speed(run: SavedRun) -> float | None:
    """The median speed while it drives, cm/s; None where no distance is sent or it never drove."""
    speed = speed_cm_s(run.table)
    if speed is None or not (speed > DRIVING_CM_S).any():
        return None
    top = float(np.percentile(speed, 95))
    return float(np.median(speed[speed > max(DRIVING_CM_S, top / 2)]))


def loop_ms(run: SavedRun) -> float:
    """The median time from one sample to the next."""
    return float(np.median(np.diff(times_ms(run.table)))) if run.table.rows > 1 else 0.0


def field_levels(table: SampleTable, names: tuple[str, ...]) -> Mapping[str, float]:
    """Each channel's level over the field: the median, for a robot is beside markers most of the way."""
    return {name: float(np.nanmedian(values(table, name))) for name in names}
