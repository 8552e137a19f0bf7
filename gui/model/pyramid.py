"""A whole recording at several coarsenesses: least and greatest value over fixed blocks of 8, 64, 512 ... samples."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
FACTOR = 8
BLOCKS_PER_COLUMN = 4
"""A level is coarse enough to be used when about this many of its blocks still fall into one column."""


@dataclass(frozen=True, slots=True)
class Level:
    """One coarseness; each array has one entry a block, ``x`` that of the block's first sample."""

    x: FloatArray
    low: FloatArray
    high: FloatArray


class Pyramid:
    """The levels of one trace. Blocks start at fixed samples, so the same stretch is always cut the same way."""

    def __init__(self, x: FloatArray, y: FloatArray) -> None:
        self.levels = [Level(x, y, y)]
        low, high = y, y
        while len(low) >= FACTOR * 256:
            whole = len(low) // FACTOR * FACTOR
            heads = np.arange(0, len(low), FACTOR)
            coarse_low = np.fmin.reduce(low[:whole].reshape(-1, FACTOR), axis=1)
            coarse_high = np.fmax.reduce(high[:whole].reshape(-1, FACTOR), axis=1)
            if whole < len(low):
                coarse_low = np.append(coarse_low, np.fmin.reduce(low[whole:]))
                coarse_high = np.append(coarse_high, np.fmax.reduce(high[whole:]))
            x = x[heads]
            low, high = coarse_low, coarse_high
            self.levels.append(Level(x, low, high))

    def level_for(self, start: float, end: float, columns: int) -> Level:
        """The coarsest level with enough blocks between ``start`` and ``end`` for ``columns`` columns."""
        chosen = self.levels[0]
        for level in self.levels[1:]:
            inside = int(np.searchsorted(level.x, end) - np.searchsorted(level.x, start))
            if inside < columns * BLOCKS_PER_COLUMN:
                break
            chosen = level
        return chosen
