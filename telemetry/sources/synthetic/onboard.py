"""The colour code that the sensor itself gives, with the mistakes such codes make: edges, height, foreign light."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from telemetry.sources.synthetic.physics import Physics
from telemetry.sources.synthetic.surfaces import taught_responses

_TINT_SPREAD = 0.06
_BRIGHTNESS_SPREAD = 0.6  # natural logarithm
_DARK = 0.08  # below this part of a white card the code is none; chosen, no source


def _features(signal: NDArray[np.float64]) -> NDArray[np.float64]:
    total = np.maximum(signal.sum(axis=1, keepdims=True), 1e-6)
    return np.hstack([signal / total / _TINT_SPREAD, np.log(total) / _BRIGHTNESS_SPREAD])


def codes(counts: NDArray[np.float64], colours: tuple[str, ...], physics: Physics) -> NDArray[np.int64]:
    """Index into ``('none', *colours)`` for each row of ``counts`` (n, 3).

    The sensor's maker taught it the colours of another chart, fresh, at the nominal height and without other light; it
    takes the nearest of those.
    """
    taught = taught_responses(colours)
    signal = np.maximum(counts - physics.black_counts, 0.0) / physics.white_counts
    away = ((_features(signal)[:, None, :] - _features(taught)[None, :, :]) ** 2).sum(axis=2)
    code: NDArray[np.int64] = np.argmin(away, axis=1)
    code[signal.mean(axis=1) < _DARK] = 0
    return code


def held_readings(code: NDArray[np.int64], hold: int = 2) -> list[tuple[int, int]]:
    """(row, code) that a simple program on the robot takes: a colour held for ``hold`` rows, then none before the next."""
    found: list[tuple[int, int]] = []
    same, last, open_for_next = 0, -1, True
    for row, value in enumerate(code.tolist()):
        same = same + 1 if value == last else 1
        last = value
        if same < hold:
            continue
        if value == 0:
            open_for_next = True
        elif value > 0 and open_for_next:
            found.append((row, value))
            open_for_next = False
    return found
