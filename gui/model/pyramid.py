"""A whole recording at several coarsenesses: least and greatest value over fixed blocks of 8, 64, 512 ... samples."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from telemetry.block_column import pieces

FloatArray = NDArray[Any]
FACTOR = 8
BLOCKS_PER_COLUMN = 4
"""A level is coarse enough to be used when about this many of its blocks still fall into one column."""
LEAST_BLOCKS: Final = 256


@dataclass(frozen=True, slots=True)
class PyramidLevel:
    """One coarseness; each array has one entry a block, ``x`` that of the block's first sample."""

    x: FloatArray
    low: FloatArray
    high: FloatArray


class Pyramid:
    """The levels of one trace, from block sizes upwards. Blocks start at fixed samples, so the same stretch is always cut
    the same way, and do not depend on the axis. ``y`` is read once, piece by piece; ``clean`` is applied to each piece.
    """

    def __init__(self, y: FloatArray, clean: Callable[[FloatArray], FloatArray] | None = None) -> None:
        rows = len(y)
        self.lows: list[FloatArray] = []
        self.highs: list[FloatArray] = []
        if rows < FACTOR * LEAST_BLOCKS:
            return
        low, high = (np.empty(-(-rows // FACTOR), np.float32) for _ in range(2))
        for start, stop in pieces(rows):  # a multiple of FACTOR
            piece = np.asarray(y[start:stop])
            piece = piece if clean is None else clean(piece)
            here = slice(start // FACTOR, -(-stop // FACTOR))
            with np.errstate(over="ignore"):
                low[here], high[here] = _coarser(piece, np.fmin), _coarser(piece, np.fmax)
        self._keep(low, high)
        while len(low) >= FACTOR * LEAST_BLOCKS:
            low, high = _coarser(low, np.fmin), _coarser(high, np.fmax)
            self._keep(low, high)

    def _keep(self, low: FloatArray, high: FloatArray) -> None:
        self.lows.append(low)
        self.highs.append(high)


class Heads:
    """Where the blocks of every level begin along one axis."""

    def __init__(self, x: FloatArray) -> None:
        self.levels = [x]
        while len(self.levels[-1]) >= FACTOR * LEAST_BLOCKS:
            self.levels.append(np.ascontiguousarray(self.levels[-1][::FACTOR]))

    def level_for(self, start: float, end: float, columns: int) -> int:
        """The coarsest level with enough blocks between ``start`` and ``end`` for ``columns`` columns; 0: all samples."""
        chosen = 0
        for number, x in enumerate(self.levels[1:], start=1):
            inside = int(np.searchsorted(x, end) - np.searchsorted(x, start))
            if inside < columns * BLOCKS_PER_COLUMN:
                break
            chosen = number
        return chosen


def _coarser(values: FloatArray, of_two: np.ufunc) -> FloatArray:
    """``of_two`` over each block of FACTOR values; the last may be shorter."""
    whole = len(values) // FACTOR * FACTOR
    out: FloatArray = values[:whole]
    for _ in range(FACTOR.bit_length() - 1):  # in halves, for numpy is slow over short rows
        out = of_two(out[0::2], out[1::2])
    return np.append(out, of_two.reduce(values[whole:])) if whole < len(values) else out
