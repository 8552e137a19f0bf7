"""The most probable path through hidden states (Viterbi), and how probable each state was (forward), in logarithms."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def most_probable_path(log_start: Floats, log_step: Floats, log_seen: Floats) -> tuple[NDArray[np.int64], float]:
    """States and log-probability of the best path; ties go to the state of the lower number.

    ``log_start`` (states,), ``log_step`` (from, to), ``log_seen`` (times, states): log-likelihood of each observation.
    """
    times, states = log_seen.shape
    came_from = np.zeros((times, states), dtype=np.int64)
    best = log_start + log_seen[0]
    for t in range(1, times):
        ways = best[:, None] + log_step
        came_from[t] = ways.argmax(axis=0)
        best = ways[came_from[t], np.arange(states)] + log_seen[t]
    path = np.zeros(times, dtype=np.int64)
    path[-1] = int(best.argmax())
    for t in range(times - 1, 0, -1):
        path[t - 1] = came_from[t, path[t]]
    return path, float(best.max())


def filtered(log_start: Floats, log_step: Floats, log_seen: Floats) -> Floats:
    """P(state now | observations so far), shape (times, states)."""
    out = np.empty_like(log_seen)
    now = log_start
    for t, seen in enumerate(log_seen):
        if t:
            peak = float(now.max())
            with np.errstate(divide="ignore"):
                now = np.log(np.exp(now - peak) @ np.exp(log_step)) + peak
        now = now + seen
        now = now - (float(now.max()) + np.log(np.exp(now - now.max()).sum()))
        out[t] = np.exp(now)
    return out
