"""The robot's clock against the computer's: offset, drift and jitter from the times at which lines arrived.

A line can only come late, never early. So the fit leans on the quickest lines: the stretch is cut into short pieces, the
least delay of each is taken, and the Theil-Sen slope through these is the drift. A few pieces without any quick line do
not move it.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

_PIECES: Final = 100
_PIECE_US: Final = 250_000


@dataclass(frozen=True, slots=True)
class ClockFit:
    """One start of the robot's program, ``boot``, with ``rows`` samples from ``first_us`` to ``last_us`` of its clock.

    ``offset_us``: Unix time at which ``first_us`` would have arrived by the quickest way. ``drift_ppm``: how much faster
    than the computer's the robot's clock runs, with its 95 % bounds; NaN where that cannot be told (too short, or handed
    over afterwards). ``delay_us`` and ``delay99_us``: median and 99th percentile of what lines took beyond the quickest.
    """

    boot: int
    rows: int
    first_us: int
    last_us: int
    offset_us: int
    drift_ppm: float
    drift_low_ppm: float
    drift_high_ppm: float
    delay_us: float
    delay99_us: float
    handed_over: bool

    def unix_us(self, t_us: int) -> int:
        """When ``t_us`` of the robot's clock was, by the computer's."""
        drift = 0.0 if np.isnan(self.drift_ppm) else self.drift_ppm
        return self.offset_us + round((t_us - self.first_us) / (1 + drift * 1e-6))

    def sentence(self) -> str:
        """The fit in words."""
        if self.handed_over:
            return "The stream was handed over afterwards, so its arrival says nothing about the robot's clock."
        late = f"lines arrived up to {self.delay99_us / 1000:.1f} ms late (99 in 100)"
        if np.isnan(self.drift_ppm):
            return f"Too short to compare the robot's clock; {late}."
        way = "fast" if self.drift_ppm >= 0 else "slow"
        bounds = f"between {self.drift_low_ppm:.0f} and {self.drift_high_ppm:.0f} with 95 % confidence"
        return f"The robot's clock runs {abs(self.drift_ppm):.0f} ppm {way} ({bounds}); {late}."


def fit_clock(t_us: NDArray[np.generic], arrival_us: NDArray[np.generic], boot: NDArray[np.generic]) -> list[ClockFit]:
    """One fit for each start of the robot's program. All of shape (rows,): the columns of these names."""
    times = np.asarray(t_us, dtype=np.int64)
    arrivals = np.asarray(arrival_us, dtype=np.int64)
    boots = np.asarray(boot, dtype=np.int64)
    return [_fit(int(one), times[boots == one], arrivals[boots == one]) for one in np.unique(boots)]


def theil_sen(x: Floats, y: Floats, confidence: float = 0.95) -> tuple[float, float, float]:
    """Median of the slopes between all pairs of points, with its bounds. ``x`` (points,), all different; at least 3 points.

    After Sen, Journal of the American Statistical Association 63, 1968.
    """
    count = len(x)
    i, j = np.triu_indices(count, k=1)
    slopes = np.sort((y[j] - y[i]) / (x[j] - x[i]))
    spread = NormalDist().inv_cdf((1 + confidence) / 2) * np.sqrt(count * (count - 1) * (2 * count + 5) / 18)
    low = max(int(np.round((len(slopes) - spread) / 2)) - 1, 0)
    high = min(int(np.round((len(slopes) + spread) / 2)), len(slopes) - 1)
    return float(np.median(slopes)), float(slopes[low]), float(slopes[high])


def _drift_ppm(slope: float) -> float:
    """From how lateness grows to how fast the robot's clock is; NaN where time passed for the robot's clock alone."""
    return -slope / (1 + slope) * 1e6 if slope > -1 else np.nan


def _fit(boot: int, t_us: Ints, arrival_us: Ints) -> ClockFit:
    first, last = int(t_us.min()), int(t_us.max())
    since = (t_us - first).astype(np.float64)
    base = int(arrival_us.min())
    late = (arrival_us - base).astype(np.float64) - since
    span = last - first
    handed_over = span > 1_000_000 and 2 * int(arrival_us.max() - base) < span
    slope, low, high = (np.nan,) * 3
    points = _quickest(since, late, span)
    if not handed_over and len(points) >= 3:
        slope, low, high = theil_sen(since[points], late[points])
    rest = late - (0.0 if np.isnan(slope) else slope) * since
    quickest = float(rest.min())
    delays = rest - quickest
    drift, drift_low, drift_high = (_drift_ppm(one) for one in (slope, high, low))
    if np.isnan(drift_low + drift_high):
        drift = drift_low = drift_high = np.nan
    return ClockFit(
        boot=boot,
        rows=len(t_us),
        first_us=first,
        last_us=last,
        offset_us=base + round(quickest),
        drift_ppm=float(drift),
        drift_low_ppm=float(drift_low),
        drift_high_ppm=float(drift_high),
        delay_us=float(np.median(delays)),
        delay99_us=float(np.quantile(delays, 0.99)),
        handed_over=handed_over,
    )


def _quickest(since: Floats, late: Floats, span: int) -> Ints:
    """Where the least delay of each piece is, in the order of time."""
    pieces = max(1, min(_PIECES, span // _PIECE_US))
    piece = np.minimum((since * pieces / (span + 1)).astype(np.int64), pieces - 1)
    order = np.lexsort((late, piece))
    places = order[np.flatnonzero(np.diff(piece[order], prepend=-1))]
    _, unique = np.unique(since[places], return_index=True)
    return np.asarray(places[unique], dtype=np.int64)
