"""One colour a slot, no item of the pool twice: the assignment with the largest sum."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

NEVER = -1e9
"""The worth of what cannot be; far below every log-likelihood, so a sum tells whether it had to be used."""


def best_assignment(worth: NDArray[np.float64]) -> tuple[float, list[int]]:
    """``worth`` (rows, columns >= rows): the largest total, and the column of each row.

    Successive augmentation along shortest paths (the Hungarian method), O(rows^2 * columns).
    """
    rows, columns = worth.shape
    cost = (-worth).tolist()
    u, v = [0.0] * (rows + 1), [0.0] * (columns + 1)
    owner, back = [0] * (columns + 1), [0] * (columns + 1)
    for row in range(1, rows + 1):
        owner[0] = row
        low, used = [float("inf")] * (columns + 1), [False] * (columns + 1)
        here = 0
        while owner[here]:
            used[here] = True
            at, delta, there = owner[here], float("inf"), 0
            line = cost[at - 1]
            for j in range(1, columns + 1):
                if not used[j]:
                    step = line[j - 1] - u[at] - v[j]
                    if step < low[j]:
                        low[j], back[j] = step, here
                    if low[j] < delta:
                        delta, there = low[j], j
            for j in range(columns + 1):
                if used[j]:
                    u[owner[j]] += delta
                    v[j] -= delta
                else:
                    low[j] -= delta
            here = there
        while here:
            owner[here] = owner[back[here]]
            here = back[here]
    chosen = [0] * rows
    for j in range(1, columns + 1):
        if owner[j]:
            chosen[owner[j] - 1] = j - 1
    return float(sum(worth[row, column] for row, column in enumerate(chosen))), chosen


def best_colours(
    fit: NDArray[np.float64], group: list[int], pools: list[list[int] | None], bare: list[bool]
) -> tuple[float, list[int]]:
    """The best colours for all slots: ``fit`` (slots, colours; column 0: nothing stands there).

    ``group``: slot -> group. ``pools``: group -> its items (a colour as often as it stands there), None where any colour of
    ``fit`` may stand any number of times. ``bare``: slot -> whether nothing may stand there.
    """
    total, answer = 0.0, [0] * len(fit)
    for number, pool in enumerate(pools):
        members = [i for i, g in enumerate(group) if g == number]
        if not members:
            continue
        if pool is None:
            for i in members:
                answer[i] = int(np.argmax(fit[i]))
                total += float(fit[i, answer[i]])
            continue
        worth = fit[np.ix_(members, pool)]
        if any(bare[i] for i in members):
            empty = np.full((len(members), len(members)), NEVER)
            np.fill_diagonal(empty, [fit[i, 0] if bare[i] else NEVER for i in members])
            worth = np.hstack([worth, empty])
        gained, columns = best_assignment(worth)
        total += gained
        for i, column in zip(members, columns, strict=True):
            answer[i] = pool[column] if column < len(pool) else 0
    return total, answer
