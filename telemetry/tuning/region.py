"""The middle of the region that works: which setting of a grid to recommend, from which runs each reads right.

A setting that reads the most runs right may owe it to chance: of a thousand, some are lucky. So what counts is not a point
but a region: neighbours in the grid that read as many right. Where the best score is only had on a spot without room around
it, settings up to one standard error of the paired difference below it count too (the one-standard-error rule of Breiman,
Friedman, Olshen and Stone, Classification and Regression Trees, 1984), if that gives a region with more room.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Bools = NDArray[np.bool_]
ROOMY = 2
"""A region this deep, in steps of the grid, is no spot any more."""


@dataclass(frozen=True, slots=True)
class RegionChoice:
    """``place``: index into the flat grid. ``works`` (grid's shape): the region; ``depth``: steps from it to what fails.

    ``least``: so many runs right count as working.
    """

    place: int
    works: Bools
    depth: NDArray[np.int64]
    least: int


@dataclass(frozen=True, slots=True)
class Scores:
    """What is known of each setting, flat in the grid's order: ``right`` (runs, settings), then the tie-breaks:
    ``altered`` (settings,): altered copies read right; ``decided`` (settings,): median ms at which all was decided (less is
    better); ``far`` (settings,): distance from today's settings.
    """

    right: Bools
    altered: NDArray[np.float64]
    decided: NDArray[np.float64]
    far: NDArray[np.float64]


def choose(scores: Scores, shape: tuple[int, ...], ordered: tuple[bool, ...]) -> RegionChoice:
    """Runs right, then room around it and altered copies right, then the earliest reading.

    ``ordered``: whether an axis has an order, so that its neighbours say something about each other.
    """
    total = scores.right.sum(axis=0)
    best = int(total.max())
    works = (total == best).reshape(shape)
    depth = depth_of(works, ordered)
    if int(depth.max()) < ROOMY:
        near = _within_one_error(scores.right, total)
        # Only as far down as room is won: the best level first.
        for level in sorted({int(value) for value in total[near] if value < best}, reverse=True):
            wider = (near & (total >= level)).reshape(shape)
            deeper = depth_of(wider, ordered)
            if int(deeper.max()) >= max(ROOMY, int(depth.max()) + 1):
                works, depth, best = wider, deeper, level
                break
    inner = np.flatnonzero((depth * 2 >= depth.max()) & works)
    order = np.lexsort((
        scores.far[inner], -depth.ravel()[inner], scores.decided[inner], -scores.altered[inner], -total[inner],
    ))  # fmt: skip
    return RegionChoice(int(inner[order[0]]), works, depth, best)


def _within_one_error(right: Bools, total: NDArray[np.int64]) -> Bools:
    """Which settings are at most one standard error of the paired difference below the best one."""
    best = right[:, int(np.argmax(total))]
    lost = (best[:, None] & ~right).sum(axis=0)
    won = (~best[:, None] & right).sum(axis=0)
    near: Bools = (lost - won) <= np.sqrt(lost + won)
    return near


def depth_of(works: Bools, ordered: tuple[bool, ...]) -> NDArray[np.int64]:
    """Of each working point the steps to the nearest that fails (0: it fails itself). The grid's own edge is no failure."""
    depth = np.zeros(works.shape, dtype=np.int64)
    left = works.copy()
    for _ in range(max(works.shape, default=1)):
        if not left.any():
            break
        depth += left
        for axis, has_order in enumerate(ordered):
            if not has_order or works.shape[axis] < 2:
                continue
            padded = np.concatenate([np.take(left, [0], axis), left, np.take(left, [-1], axis)], axis)
            count = works.shape[axis]
            left = np.take(padded, range(count), axis) & left & np.take(padded, range(2, count + 2), axis)
    return depth
