"""How many samples tell two colours apart: tried on the captures themselves, not worked out from a formula.

Half of each capture makes what is known, pieces of the other half are told: consecutive samples, so that their dependence
counts, each piece held a little otherwise (the hand) and of a surface that is a little another.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from telemetry.calibrate.capture import StillCapture

Floats = NDArray[np.float64]

TRIES = 400
NUMBERS = (1, 2, 3, 5, 8, 12, 20)
ENOUGH = 0.995
"""So many of the tries must come out right, for 99 % to hold when it is tried anew."""
HAND = 0.07
"""Deviation of the common factor by which a piece may be brighter or darker (common practice, no source)."""
SURFACE = 0.04
"""Part of a colour's own level by which a surface, its wear or its light may differ from the capture (common practice)."""


def samples_needed(first: Sequence[StillCapture], second: Sequence[StillCapture], use: NDArray[np.int64]) -> int | None:
    """The least number of consecutive samples that tell two colours apart in 99 of 100; 0 where no number tried does.

    None where captures are too short to try it. ``first`` and ``second``: all captures of each colour; ``use``: channels.
    """
    halves = [_halves(captures, use) for captures in (first, second)]
    if any(half is None for half in halves):
        return None
    known, told = zip(*(half for half in halves if half is not None), strict=True)
    means = np.array([np.vstack(rows).mean(axis=0) for rows in known])
    covariances = [np.cov(np.vstack(rows).T).reshape(len(use), len(use)) for rows in known]
    within = np.mean(np.array(covariances), axis=0)
    rng = np.random.default_rng(20)
    for number in NUMBERS:
        right = [_share(means, within, number, told=told[i], own=i, rng=rng) for i in (0, 1)]
        if None in right:
            return None
        if min(share for share in right if share is not None) >= ENOUGH:
            return number
    return 0


def _halves(captures: Sequence[StillCapture], use: NDArray[np.int64]) -> tuple[list[Floats], list[Floats]] | None:
    known, told = [], []
    for capture in captures:
        rows = capture.values[:, use]
        rows = rows[np.isfinite(rows).all(axis=1)]
        if len(rows) >= 2 * NUMBERS[0] + 18:
            known.append(rows[: len(rows) // 2])
            told.append(rows[len(rows) // 2 :])
    return (known, told) if known else None


def _share(
    means: Floats, within: Floats, number: int, *, told: Sequence[Floats], own: int, rng: np.random.Generator
) -> float | None:
    """Of pieces of ``number`` samples the share that is told right; None where no capture is so long."""
    pieces = [rows for rows in told if len(rows) >= 2 * number]
    if not pieces:
        return None
    sums = [np.vstack([np.zeros(means.shape[1]), np.cumsum(rows, axis=0)]) for rows in pieces]
    which, at = rng.integers(len(pieces), size=TRIES), rng.random(TRIES)
    looks = np.empty((TRIES, means.shape[1]))
    for i, total in enumerate(sums):
        mine = which == i
        begin = (at[mine] * (len(total) - number)).astype(np.int64)
        looks[mine] = (total[begin + number] - total[begin]) / number
    looks *= np.exp(rng.normal(0.0, HAND, (TRIES, 1))) * (1.0 + rng.normal(0.0, SURFACE, looks.shape))
    away = []
    for mean in means:
        spread = within / number + np.diag((SURFACE * mean) ** 2 + 1.0 / 12.0) + HAND**2 * np.outer(mean, mean)
        gap = looks - mean
        away.append(np.einsum("ij,ij->i", gap, np.linalg.solve(spread, gap.T).T) + np.linalg.slogdet(spread)[1])
    return float((np.argmin(np.array(away), axis=0) == own).mean())
