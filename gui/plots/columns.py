"""From samples to pixel columns: the least and the greatest value over what one column of pixels stands for.

Columns are counted from a fixed zero (column k covers ``k * step`` to ``(k + 1) * step``), so that a sample always falls
into the same column while a picture moves: nothing shimmers.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Broken = Callable[[NDArray[np.int64]], NDArray[np.bool_]]


def min_max(
    x: FloatArray, low: FloatArray, high: FloatArray, *, first: int, count: int, step: float, gap: float
) -> tuple[FloatArray, FloatArray]:
    """Least and greatest value in each of ``count`` columns from column ``first`` on; NaN where there is nothing.

    ``x`` never falls. ``low`` and ``high`` are the values, the same array where each row is one sample. Between two samples
    that lie in different columns a straight line is assumed, unless they are more than ``gap`` apart.
    """
    out_low = np.full(count, np.nan)
    out_high = np.full(count, np.nan)
    if not len(x) or count <= 0:
        return out_low, out_high
    edges = np.arange(first, first + count + 1) * step
    at = np.searchsorted(x, edges)
    begin, end = int(at[0]), int(at[-1])
    filled = at[1:] > at[:-1]
    if end > begin:
        starts = at[:-1][filled] - begin
        out_low[filled] = np.fmin.reduceat(low[begin:end], starts)
        out_high[filled] = np.fmax.reduceat(high[begin:end], starts)
    # where the line from the sample before an edge to the one after it crosses the edge, both columns touch it
    after = np.clip(at, 1, len(x) - 1) if len(x) > 1 else at
    if len(x) > 1:
        before = after - 1
        span = x[after] - x[before]
        real = (at > 0) & (at < len(x)) & (span <= gap) & (span > 0)
        part = np.divide(edges - x[before], span, out=np.zeros(count + 1), where=span > 0)
        low_edge = np.where(real, low[before] + (low[after] - low[before]) * part, np.nan)
        high_edge = low_edge if low is high else np.where(real, high[before] + (high[after] - high[before]) * part, np.nan)
        out_low = np.fmin(np.fmin(out_low, low_edge[:-1]), low_edge[1:])
        out_high = np.fmax(np.fmax(out_high, high_edge[:-1]), high_edge[1:])
    return out_low, out_high


def last_colour(
    x: FloatArray, codes: NDArray[np.int64], *, first: int, count: int, step: float, broken: Broken, hold: float
) -> NDArray[np.int64]:
    """The colour index of each column, -1 for nothing: the greatest seen there, else the one before, up to the next sample.

    'Greatest' lets a colour (1 and up) win over none (0), so that a flicker of one sample is never hidden. ``broken``: asked
    after which samples something is missing; these are held for ``hold`` only, and then nothing is shown.
    """
    out = np.full(count, -1, dtype=np.int64)
    if not len(x) or count <= 0:
        return out
    edges = np.arange(first, first + count + 1) * step
    at = np.searchsorted(x, edges)
    begin, end = int(at[0]), int(at[-1])
    filled = at[1:] > at[:-1]
    if end > begin:
        out[filled] = np.maximum.reduceat(codes[begin:end], at[:-1][filled] - begin)
    empty = np.flatnonzero(~filled)
    before = at[empty] - 1
    held = (before >= 0) & (before + 1 < len(x))
    empty, before = empty[held], before[held]
    shown = ~broken(before) | (edges[empty] - x[before] < hold)
    out[empty[shown]] = codes[before[shown]]
    return out
