"""When each marker passed, where only the order of slots is known: the most probable path of gaps, slots and colours."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from telemetry.replay.limit.path import most_probable_path

Floats = NDArray[np.float64]

STAY = 0.8
"""Chance that the next sample shows the same marker or gap; how long they last is not known."""
DIRECT = 0.1
"""Of the changes from one marker: those to the next without a gap between."""
COVERS = (1.0, 0.7, 0.4)
NEVER = -1e9


def colour_likelihoods(departs: Floats, looks: Floats, sigma: float, own: float) -> Floats:
    """(samples, colours): log-likelihood of each sample's departure (samples, 4) for each colour's (colours, 4).

    Whatever share of the spot it covers; colour 0 is the empty field.
    """
    channels = 3
    out = np.full((len(departs), len(looks)), -np.inf)
    for number, now in enumerate(looks):
        for cover in (0.0,) if number == 0 else COVERS:
            variance = sigma + (own**2 * float(now @ now) * cover**2) / channels + 60.0
            away = ((departs - cover * now) ** 2).sum(axis=1)
            likely = -0.5 * away / variance - 0.5 * channels * np.log(variance)
            out[:, number] = np.maximum(out[:, number], likely)
    return np.asarray(np.maximum(out, out.max(axis=1, keepdims=True) - 30.0))


def stretches(likelihoods: Sequence[Floats], slots: int) -> list[tuple[int, int]]:
    """(first, last) sample of each slot in order, under the best of ``likelihoods`` (one a kind of light).

    States: the gap before each slot and behind the last, and every slot in every colour.
    """
    best, found = -np.inf, []
    for seen in likelihoods:
        path, total = _path(seen, slots)
        if total > best:
            best, found = total, path
    return found


def _path(seen: Floats, slots: int) -> tuple[list[tuple[int, int]], float]:
    colours = seen.shape[1] - 1
    states = slots + 1 + slots * colours

    def slot_states(slot: int) -> NDArray[np.int64]:
        return np.asarray(slots + 1 + slot * colours + np.arange(colours))

    step = np.full((states, states), NEVER)
    np.fill_diagonal(step, np.log(STAY))
    for slot in range(slots):
        mine = slot_states(slot)
        step[slot, mine] = np.log((1.0 - STAY) / colours)
        step[mine, slot + 1] = np.log((1.0 - STAY) * (1.0 - DIRECT))
        if slot + 1 < slots:
            step[np.ix_(mine, slot_states(slot + 1))] = np.log((1.0 - STAY) * DIRECT / colours)
            # The same colour in two slots without a gap between cannot be told from one wide marker.
            step[mine, slot_states(slot + 1)] = NEVER
    emitted = np.hstack([np.repeat(seen[:, :1], slots + 1, axis=1), np.tile(seen[:, 1:], (1, slots))])
    start = np.full(states, NEVER)
    start[0] = np.log(0.9)
    start[slot_states(0)] = np.log(0.1 / colours)
    last = np.full(states, NEVER)
    last[slots] = 0.0
    last[slot_states(slots - 1)] = 0.0
    emitted[-1] += last
    path, total = most_probable_path(start, step, emitted)
    out = []
    for slot in range(slots):
        rows = np.flatnonzero((path > slots) & ((path - slots - 1) // colours == slot))
        out.append((int(rows[0]), int(rows[-1])) if rows.size else (-1, -1))
    return out, total
