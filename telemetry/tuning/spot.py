"""How large the sensor's spot is, from how the signal rises at the edges of markers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from telemetry.course import EMPTY
from telemetry.tuning.runs import SavedRun
from telemetry.tuning.signals import Floats, distance_cm, filled, raw_columns, speed_cm_s, values

LEAST_SAMPLES = 6
USUAL_WIDTH_CM = 4.0
STRONG = 6.0
"""A sample stands out from the field by this many times its spread."""


@dataclass(frozen=True, slots=True)
class Rise:
    """One marker in one channel (0 red, 1 green, 2 blue) of the ``sensor``-th that sends them: where its middle is along the
    way, and the spot's deviation.
    """

    marker: int
    channel: int
    middle_cm: float
    sd_cm: float
    speed_cm_s: float
    sensor: int = 0


def spot_sd_cm(rises: Sequence[Rise]) -> float | None:
    """Standard deviation (cm) of the spot's response along the way, the median over markers; None from fewer than three."""
    return float(np.median([rise.sd_cm for rise in rises])) if len(rises) >= 3 else None


def staggers_ms(rises: Sequence[Rise]) -> list[tuple[float, float]]:
    """How much later each channel is measured than the one before it, from where one marker's middle is in each; and how
    much each figure counts: the faster, and the farther apart in the row of channels, the better it shows.
    """
    found = []
    for one, other in combinations(rises, 2):
        if one.marker == other.marker and one.speed_cm_s > 5.0:
            # Measured later is measured farther on, so the marker comes earlier in the rows.
            apart = other.channel - one.channel
            late = 1000.0 * (one.middle_cm - other.middle_cm) / one.speed_cm_s / apart
            found.append((late, (apart * one.speed_cm_s) ** 2))
    return found


def weighted_median(found: Sequence[tuple[float, float]]) -> float:
    """Half of the weight is on either side of it."""
    ordered = sorted(found)
    half = sum(weight for _, weight in ordered) / 2.0
    for value, weight in ordered:
        half -= weight
        if half <= 0.0:
            return value
    return ordered[-1][0]


def rises_of(run: SavedRun) -> list[Rise]:
    """Every marker that stands out, in every channel in which it does; none without scipy or a distance.

    Each is fitted by scipy's least squares as a stretch with two edges seen through a Gaussian spot; a marker as wide as the
    course says tells spot and width apart.
    """
    try:
        from scipy.optimize import least_squares
        from scipy.special import ndtr
    except ImportError:
        return []
    way, speed = distance_cm(run.table), speed_cm_s(run.table)
    if way is None or speed is None:
        return []
    found = []
    slots = zip(run.course.slots, run.truth, strict=True)
    widths = [slot.width_cm or USUAL_WIDTH_CM for slot, true in slots if true != EMPTY]
    width = float(np.median(widths)) if widths else USUAL_WIDTH_CM
    marker = 0
    for sensor, names in enumerate(raw_columns(run.table)):
        stacked = np.stack([filled(values(run.table, name)) for name in names])
        field = np.median(stacked, axis=1, keepdims=True)
        noise = np.maximum(1.0, 1.5 * np.median(np.abs(stacked - field), axis=1, keepdims=True))
        strong = np.abs(stacked - field) / noise
        for begin, end in _islands(strong.max(axis=0) > STRONG, way, width):
            marker += 1
            low = np.searchsorted(way, way[begin] - 1.5 * width)
            high = np.searchsorted(way, way[end - 1] + 1.5 * width)
            for channel in np.flatnonzero(strong[:, begin:end].max(axis=1) > 2 * STRONG).tolist():
                x, y = way[low:high], stacked[channel, low:high] - field[channel]
                if len(x) < LEAST_SAMPLES:
                    continue

                def miss(p: Floats, x: Floats = x, y: Floats = y) -> Floats:
                    out: Floats = p[0] + p[1] * (ndtr((x - p[2] + p[3]) / p[4]) - ndtr((x - p[2] - p[3]) / p[4])) - y
                    return out

                peak = int(np.argmax(np.abs(y)))
                start = [0.0, float(y[peak]), float(x[peak]), width / 2, width / 6]
                bounds = ([-np.inf, -np.inf, x[0], width / 8, 0.02], [np.inf, np.inf, x[-1] + 1e-6, 1.5 * width, width])
                fit = least_squares(miss, np.clip(start, *bounds), bounds=bounds, loss="soft_l1", max_nfev=60)
                inside = way[begin] - 0.3 * width < fit.x[2] < way[end - 1] + 0.3 * width
                if fit.success and inside and abs(2 * fit.x[3] - width) < width / 2 and fit.x[4] < 0.9 * width:
                    middle = (begin + end) // 2
                    found.append(Rise(marker, channel, float(fit.x[2]), float(fit.x[4]), float(speed[middle]), sensor))
    return found


def _islands(inside: np.ndarray[tuple[int], np.dtype[np.bool_]], way: Floats, width: float) -> list[tuple[int, int]]:
    """(begin, end) of stretches of the way that stand out from the field and are about as long as a marker."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], inside.astype(np.int8), [0]])))
    spans = zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
    return [(a, b) for a, b in spans if b - a >= 2 and 0.3 * width < way[b - 1] - way[a] < 2.5 * width]
