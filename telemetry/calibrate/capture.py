"""A still capture: the sensor held over one colour. Says whether it was held still, and what it saw."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from telemetry.errors import PaletteError
from telemetry.palette import CHANNELS
from telemetry.sample import SampleTable, sensor_channel
from telemetry.wording import figures

LEAST_SAMPLES = 20
MOVED_CM = 0.4
DRIVE_CM = 8.0
"""Who moved farther did not hold a sensor still: it is a drive, and no colour can be learned from it."""
DRIFT_OF_SPAN = 0.06
"""More than this part of its own level between the begin and the end, beyond the noise: it moved, or the light did."""
JUMPY = 0.25


@dataclass(frozen=True, slots=True)
class StillCapture:
    """What a sensor sent over one colour. ``values`` (n, 4) in the order of CHANNELS, NaN where not sent.

    ``codes``: name -> share of the samples with a code. ``spread``: channel -> standard deviation. ``doubts``: one sentence
    each on why it should be taken again; empty where it was still.
    """

    colour: str
    values: NDArray[np.float64]
    codes: Mapping[str, float]
    rate_hz: float
    height_mm: float | None = None
    light: str = ""
    ranges: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    doubts: tuple[str, ...] = ()
    where: str = ""

    @property
    def mean(self) -> NDArray[np.float64]:
        """(4,), NaN for a channel that was not sent."""
        return np.array([float(np.mean(v)) if v.size else math.nan for v in self._known()])

    @property
    def spread(self) -> NDArray[np.float64]:
        """Standard deviation (4,)."""
        return np.array([float(np.std(v)) if v.size else math.nan for v in self._known()])

    @property
    def samples(self) -> int:
        """How many samples hold anything."""
        return max([len(v) for v in self._known()] + [round(sum(self.codes.values()) and len(self.values))])

    def _known(self) -> list[NDArray[np.float64]]:
        return [column[np.isfinite(column)] for column in self.values.T]


def still_capture(
    colour: str, table: SampleTable, *, sensor: str = "", height_mm: float | None = None, light: str = "", where: str = ""
) -> StillCapture:
    """Make a capture of ``table``. Raises PaletteError where there is nothing to learn from; mere doubts are kept in it."""
    values = np.full((table.rows, 4), np.nan)
    for place, name in enumerate(CHANNELS):
        channel = sensor_channel(table.columns, name, sensor)
        if channel is not None:
            values[:, place] = np.asarray(table.columns[channel][: table.rows], dtype=np.float64)
    channel = sensor_channel(table.columns, "colour", sensor)
    codes: dict[str, float] = {}
    if channel is not None:
        seen = np.asarray(table.columns[channel][: table.rows], dtype=np.int64)
        seen = seen[seen >= 0]
        if seen.size:
            numbers, counts = np.unique(seen, return_counts=True)
            codes = {table.colours[int(n)]: float(count / seen.size) for n, count in zip(numbers, counts, strict=True)}
    filled = np.isfinite(values).any(axis=1)
    usable = int(filled.sum()) if filled.any() else (table.rows if codes else 0)
    if usable < LEAST_SAMPLES:
        raise PaletteError(
            f"{usable} samples over {colour} are too few to learn from", where=where,
            todo=f"Hold the sensor still over it until at least {LEAST_SAMPLES} samples have come.",
        )  # fmt: skip
    far = _way_cm(table)
    if far > DRIVE_CM:
        raise PaletteError(
            f"what was given for {colour} is a drive of {far:.0f} cm, no capture of one surface", where=where,
            todo=f"Give samples of the sensor held still over {colour}.",
        )  # fmt: skip
    t_us = np.asarray(table.columns["t_us"][: table.rows], dtype=np.float64)
    steps = np.diff(t_us)
    steps = steps[steps > 0]
    rate = 1e6 / float(np.median(steps)) if steps.size else 0.0
    ranges = {name: table.ranges[ch] for name in CHANNELS if (ch := sensor_channel(table.ranges, name, sensor)) is not None}
    doubts = (*_moved(table), *_unsteady(values), *_mixed(codes))
    return StillCapture(colour, values, codes, rate, height_mm, light, ranges, doubts, where)


def same_samples(captures: Sequence[StillCapture]) -> tuple[StillCapture, StillCapture] | None:
    """Two colours that were given the same samples, or the same file; None where there are none such."""
    for one, other in combinations(captures, 2):
        varied = bool(np.any(np.nan_to_num(np.nanstd(one.values[:, np.isfinite(one.values).any(axis=0)], axis=0)) > 0.0))
        alike = varied and one.codes == other.codes and np.array_equal(one.values, other.values, equal_nan=True)
        if one.colour != other.colour and (alike or (one.where and one.where == other.where)):
            return one, other
    return None


def _way_cm(table: SampleTable) -> float:
    """How far the distance reaches; 0 without one."""
    column = table.columns.get("dist")
    dist = np.asarray(column[: table.rows] if column is not None else [], dtype=np.float64)
    dist = dist[np.isfinite(dist)]
    return float(np.ptp(dist)) if dist.size else 0.0


def _moved(table: SampleTable) -> list[str]:
    far = _way_cm(table)
    return [f"the distance changed by {far:.1f} cm: hold it still"] if far > MOVED_CM else []


def _unsteady(values: NDArray[np.float64]) -> list[str]:
    """Doubts about channels whose level drifts, or jumps between samples far more than around its middle."""
    out = []
    for name, column in zip(CHANNELS, values.T, strict=True):
        known = column[np.isfinite(column)]
        if known.size < LEAST_SAMPLES:
            continue
        third = known.size // 3
        level = max(float(np.median(np.abs(known))), 1.0)
        noise = float(np.median(np.abs(np.diff(known)))) + 1e-9
        drift = abs(float(known[-third:].mean() - known[:third].mean()))
        if drift > DRIFT_OF_SPAN * level and drift > 3.0 * noise:
            begun, ended = figures(known[:third].mean(), 4), figures(known[-third:].mean(), 4)
            out.append(f"{name} went from {begun} to {ended}: the sensor or the light moved")
        elif float(np.std(known)) > JUMPY * level and float(np.std(known)) > 4.0:
            by = figures(float(np.std(known)))
            out.append(f"{name} varies by {by} around {figures(level, 4)}: more than a sensor held still does")
    return out


def _mixed(codes: Mapping[str, float]) -> list[str]:
    if codes and max(codes.values()) < 0.5:
        most = sorted(codes.items(), key=lambda item: -item[1])[:3]
        listed = ", ".join(f"{name} {100 * share:.0f} %" for name, share in most)
        return [f"its colour code is not settled ({listed})"]
    return []
