"""How large the sensor's spot is, from how the signal rises at the edges of markers."""

from __future__ import annotations

import numpy as np

from telemetry.course import EMPTY
from telemetry.tuning.runs import SavedRun
from telemetry.tuning.signals import Floats, distance_cm, filled, raw_columns, values

LEAST_SAMPLES = 6
USUAL_WIDTH_CM = 4.0


def spot_sd_cm(run: SavedRun) -> float | None:
    """Standard deviation (cm) of the spot's response along the way, the median over markers; None where nothing shows it.

    Each marker is fitted by scipy's least squares as a stretch with two edges seen through a Gaussian spot; a marker as
    wide as the course says tells spot and width apart. None without scipy.
    """
    try:
        from scipy.optimize import least_squares
        from scipy.special import ndtr
    except ImportError:
        return None
    way = distance_cm(run.table)
    if way is None:
        return None
    found = []
    slots = zip(run.course.slots, run.truth, strict=True)
    widths = [slot.width_cm or USUAL_WIDTH_CM for slot, true in slots if true != EMPTY]
    width = float(np.median(widths)) if widths else USUAL_WIDTH_CM
    for names in raw_columns(run.table):
        stacked = np.stack([filled(values(run.table, name)) for name in names])
        field = np.median(stacked, axis=1, keepdims=True)
        noise = np.maximum(1.0, 1.5 * np.median(np.abs(stacked - field), axis=1, keepdims=True))
        strong = np.abs(stacked - field) / noise
        for begin, end in _islands(strong.max(axis=0) > 6.0, way, width):
            channel = int(np.argmax(strong[:, begin:end].max(axis=1)))
            low = np.searchsorted(way, way[begin] - 1.5 * width)
            high = np.searchsorted(way, way[end - 1] + 1.5 * width)
            x, y = way[low:high], stacked[channel, low:high] - field[channel]
            if len(x) < LEAST_SAMPLES:
                continue

            def miss(p: Floats, x: Floats = x, y: Floats = y) -> Floats:
                out: Floats = p[0] + p[1] * (ndtr((x - p[2] + p[3]) / p[4]) - ndtr((x - p[2] - p[3]) / p[4])) - y
                return out

            top = float(y[np.argmax(np.abs(y))])
            start = [0.0, top, float(x[np.argmax(np.abs(y))]), width / 2, width / 6]
            bounds = ([-np.inf, -np.inf, x[0], width / 8, 0.02], [np.inf, np.inf, x[-1] + 1e-6, 1.5 * width, width])
            fit = least_squares(miss, np.clip(start, bounds[0], bounds[1]), bounds=bounds, loss="soft_l1", max_nfev=60)
            if fit.success and abs(2 * fit.x[3] - width) < width / 2 and fit.x[4] < 0.9 * width:
                found.append(float(fit.x[4]))
    return float(np.median(found)) if len(found) >= 3 else None


def _islands(inside: np.ndarray[tuple[int], np.dtype[np.bool_]], way: Floats, width: float) -> list[tuple[int, int]]:
    """(begin, end) of stretches of the way that stand out from the field and are about as long as a marker."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], inside.astype(np.int8), [0]])))
    spans = zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
    return [(a, b) for a, b in spans if b - a >= 2 and 0.3 * width < way[b - 1] - way[a] < 2.5 * width]
