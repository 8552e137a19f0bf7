"""Where a falling share of right runs crosses what still counts as right.

The share is made monotone by pooling adjacent violators (Ayer et al., Annals of Mathematical Statistics 26, 1955), so that
one lucky or unlucky step does not make the margin.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

RIGHT_SHARE = 0.95
"""Of as many as are right as recorded."""
BOOTSTRAPS = 400
Floats = NDArray[np.float64]


def drawn_anew(values: Floats, shares: Floats) -> tuple[float, float]:
    """95 % of the margins of runs drawn anew, of ``shares`` (values, runs); where a drawn set does not fail, the end of the
    search counts.

    Few runs show none of those seldom ones that fail first. So one more is drawn with them, of which nothing is known but
    that it fails somewhere between as recorded and the end of the search (Bayesian bootstrap: Rubin, Annals of Statistics 9,
    1981, with one run's weight of prior; from memory).
    """
    rng = np.random.default_rng(0)
    found = []
    scale: Floats = np.log(values) if values[0] > 0.0 else values
    for _ in range(BOOTSTRAPS):
        weights = rng.dirichlet(np.ones(shares.shape[1] + 1))
        unknown = scale <= rng.uniform(scale[0], scale[-1])
        one = crossing(values, shares @ weights[:-1] + unknown * weights[-1])
        found.append(float(values[-1]) if one is None else one)
    low, high = np.percentile(found, [2.5, 97.5])
    return float(low), float(high)


def monotone(shares: Floats) -> Floats:
    """The nearest row that never rises: adjacent violators pooled."""
    blocks: list[tuple[float, int]] = []
    for share in shares.tolist():
        blocks.append((share, 1))
        while len(blocks) > 1 and blocks[-2][0] < blocks[-1][0]:
            (a, m), (b, n) = blocks[-2:]
            blocks[-2:] = [((a * m + b * n) / (m + n), m + n)]
    return np.concatenate([np.full(count, value) for value, count in blocks])


def relative(shares: Floats) -> Floats:
    """The monotone share, in parts of what it is at the first value."""
    even = monotone(shares)
    out: Floats = even / max(float(even[0]), 1e-9)
    return out


def crossing(values: Floats, shares: Floats, whole: float | None = None) -> float | None:
    """Where the monotone share falls below RIGHT_SHARE of ``whole``, between two values that were tried; None where it does
    not. ``whole`` None: of what it is at the first value.
    """
    even = relative(shares) if whole is None else monotone(shares) / whole
    below = np.flatnonzero(even < RIGHT_SHARE - 1e-9)
    if not len(below):
        return None
    k = int(below[0])
    if k == 0:
        return float(values[0])
    part = (even[k - 1] - RIGHT_SHARE) / (even[k - 1] - even[k])
    return float(values[k - 1] + part * (values[k] - values[k - 1]))


def bracket(tried: dict[float, Floats]) -> tuple[float, float | None]:
    """The last value that holds, and the first that does not, None where all hold. ``tried``: value -> (runs,) shares."""
    values = np.array(sorted(tried))
    even = relative(np.array([tried[value].mean() for value in values]))
    below = np.flatnonzero(even < RIGHT_SHARE - 1e-9)
    if not len(below):
        return float(values[-1]), None
    return float(values[max(0, int(below[0]) - 1)]), float(values[int(below[0])])

