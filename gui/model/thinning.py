"""A live run of hours in bounded memory: its newest samples all, of older ones the least and the greatest of a block.

Each block of older samples is two entries. All blocks are equally long; when there are too many, each two become one. So
what is held stays below a fixed number, however long the robot sends, and a picture of hours still shows every peak.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

Values = NDArray[Any]
MOST_HELD: Final = 1 << 18
"""Entries, of old samples and new ones: 40 minutes at 100 samples a second are kept whole."""
FIRST_BLOCK: Final = 8


@dataclass
class Thinning:
    """``old``: so many entries, from the first on, are two for a block of ``block`` samples each. The rest are samples."""

    most: int = MOST_HELD
    old: int = 0
    block: int = FIRST_BLOCK
    times: int = 0
    """How often it was done."""

    def index_of(self, row: int) -> int:
        """The entry that stands for this sample of the stream."""
        first = self.old // 2 * self.block
        if row >= first:
            return self.old + row - first
        return row // self.block * 2 + (row % self.block >= self.block // 2)

    def row_of(self, index: int) -> int:
        """The sample of the stream that an entry begins with."""
        if index >= self.old:
            return self.old // 2 * self.block + index - self.old
        return index // 2 * self.block + index % 2 * (self.block // 2)

    def due(self, held: int) -> int:
        """How many samples, the oldest that are held as such, become blocks now; 0: none."""
        if held <= self.most:
            return 0
        blocks = (held - self.old - self.most // 2) // self.block
        return (blocks - (blocks + self.old // 2) % 2) * self.block

    def done(self, rows: int) -> int:
        """So many samples have become blocks; how often each two blocks become one now."""
        self.times += 1
        self.old += rows // self.block * 2
        merged = 0
        while self.old > self.most // 4 and not self.old // 2 % 2:
            self.old //= 2
            self.block *= 2
            merged += 1
        return merged


def of_blocks(values: Values, block: int, kind: str) -> Values:
    """Two entries for each block of samples. ``kind``: place (where it begins and its middle), extreme, code."""
    parts = values.reshape(-1, block)
    if kind == "place":
        pairs = parts[:, 0], parts[:, block // 2]
    elif kind == "code":  # a colour wins over none, so that a flicker of one sample is never hidden
        pairs = parts[:, : block // 2].max(axis=1), parts[:, block // 2 :].max(axis=1)
    else:
        pairs = np.fmin.reduce(parts, axis=1), np.fmax.reduce(parts, axis=1)
    return np.stack(pairs, axis=1).reshape(-1)


def of_two(entries: Values, kind: str) -> Values:
    """Two entries for each two blocks, from their four."""
    parts = entries.reshape(-1, 4)
    if kind == "place":
        pairs = parts[:, 0], parts[:, 2]
    elif kind == "code":
        pairs = parts[:, :2].max(axis=1), parts[:, 2:].max(axis=1)
    else:
        pairs = np.fmin(parts[:, 0], parts[:, 2]), np.fmax(parts[:, 1], parts[:, 3])
    return np.stack(pairs, axis=1).reshape(-1)
