"""What a palette is good for, in numbers: which colours will be confused, how high and how fast they can still be read."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from telemetry.calibrate.colour_science import ciede2000, lab_from_linear
from telemetry.course import NONE
from telemetry.palette import Palette, PaletteColour
from telemetry.reading.evidence.table import wald_bounds

SURFACE = 0.04
"""Part of a colour's own level by which a surface, its wear or its light may differ from the capture (common practice)."""
ERROR = 0.01
USUAL_WIDTH_CM = 3.0


@dataclass(frozen=True, slots=True)
class Pair:
    """Two colours. ``mahalanobis``: their distance in standard deviations of one sample; ``ciede2000`` to the eye, None
    without red, green and blue. ``confusion``: share of single samples taken for the other. ``samples``: so many
    are needed on the average to be 99 % sure (Wald), successive samples' dependence counted; None: no number is enough.
    """

    first: str
    second: str
    mahalanobis: float
    ciede2000: float | None
    confusion: float
    samples: float | None

    @property
    def verdict(self) -> str:
        """In words."""
        if self.samples is None:
            return "cannot be told apart"
        if self.confusion > 0.05:
            return "will be confused"
        if self.confusion > 0.005:
            return "now and then confused"
        return "safe"


@dataclass(frozen=True, slots=True)
class Reach:
    """One colour: its nearest neighbour, what it needs, and how high and fast that allows. None: not known or no limit."""

    colour: str
    nearest: str
    samples: float | None
    top_speed_cm_s: float | None
    top_height_mm: float | None


def _deviation(colour: PaletteColour, other: PaletteColour, use: NDArray[np.int64]) -> NDArray[np.float64]:
    mean = (colour.covariance + other.covariance)[np.ix_(use, use)] / 2.0
    level = np.maximum(np.abs(colour.mean), np.abs(other.mean))[use]
    return np.asarray(mean + np.diag((SURFACE * level) ** 2))


def normal_tail(x: float) -> float:
    """P(standard normal > x)."""
    return 0.5 * math.erfc(x / math.sqrt(2.0))


def expected_samples(distance: float, error: float = ERROR, lag1: float = 0.0) -> float:
    """Wald's expected number of samples to tell two normal distributions ``distance`` deviations apart, both errors alike.

    Wald's figure holds for independent samples; with a correlation ``lag1`` from one to the next, (1 + r) / (1 - r) times
    as many are needed (variance of the mean of a first-order process).
    """
    if distance <= 1e-6:
        return math.inf
    upper, lower = wald_bounds(error, error)
    drift = distance**2 / 2.0
    independent = ((1.0 - error) * upper + error * lower) / drift
    return max(1.0, independent) * (1.0 + lag1) / (1.0 - lag1)


def samples_over(width_cm: float, speed_cm_s: float, rate_hz: float) -> float:
    """How many samples a marker yields: width / speed * rate."""
    return width_cm / speed_cm_s * rate_hz


def stop_point(speed_cm_s: float, rate_hz: float, loop_ms: float, latency_ms: float, samples: float) -> tuple[float, float]:
    """Where a robot that stops at a colour stands behind the colour's begin, and its standard deviation, both in cm.

    The colour begins anywhere between two samples, and the loop looks at any time after one: two even spreads.
    """
    late_s = (samples - 0.5) / rate_hz + (loop_ms / 2.0 + latency_ms) / 1000.0
    spread_s = math.hypot(1.0 / rate_hz, loop_ms / 1000.0) / math.sqrt(12.0)
    return speed_cm_s * late_s, speed_cm_s * spread_s


def balanced_lab(palette: Palette) -> dict[str, NDArray[np.float64]]:
    """Each colour as L*a*b*, the palette's white (else its brightest) taken as white: about how it looks to the eye."""
    means = {c.name: c.mean[:3] for c in palette.colours if np.isfinite(c.mean[:3]).all()}
    if not means:
        return {}
    black = np.array([palette.ranges.get(name, (0.0, 1.0))[0] for name in ("red", "green", "blue")])
    levels = {name: np.maximum(mean - black, 0.0) for name, mean in means.items()}
    white = levels.get("white", max(levels.values(), key=lambda level: float(level.min())))
    return {name: lab_from_linear(level / np.maximum(white, 1e-9)) for name, level in levels.items()}


def pairs(palette: Palette) -> list[Pair]:
    """Every pair of colours, the most easily confused first. Empty where no raw channel was captured."""
    use = np.flatnonzero([name in palette.channels for name in ("red", "green", "blue", "refl")])
    if not use.size:
        return []
    lab = balanced_lab(palette)
    out = []
    for one, two in combinations(palette.colours, 2):
        apart = (one.mean - two.mean)[use]
        distance = math.sqrt(max(float(apart @ np.linalg.solve(_deviation(one, two, use), apart)), 0.0))
        seen = float(ciede2000(lab[one.name], lab[two.name])) if one.name in lab and two.name in lab else None
        needed = expected_samples(distance, lag1=max(one.lag1, two.lag1))
        out.append(Pair(one.name, two.name, distance, seen, normal_tail(distance / 2.0), needed if needed < 200 else None))
    return sorted(out, key=lambda pair: pair.mahalanobis)


def fall_off(palette: Palette) -> float | None:
    """How the light falls: signal ~ height ** -p, the median over colours and channels; None where one height was taken."""
    powers: list[float] = []
    for colour in palette.colours:
        if colour.name == NONE or len(colour.by_height) < 2:
            continue
        heights = np.log(np.array([mm for mm, _ in colour.by_height], dtype=np.float64))
        for place, name in enumerate(("red", "green", "blue")):
            black = palette.ranges.get(name, (0.0, 1.0))[0]
            levels = np.array([mean[place] - black for _, mean in colour.by_height])
            if len(heights) >= 2 and np.isfinite(levels).all() and (levels > 0).all():
                powers.append(-float(np.polyfit(heights, np.log(levels), 1)[0]))
    return float(np.median(powers)) if powers else None


def reaches(palette: Palette, width_cm: float = USUAL_WIDTH_CM) -> list[Reach]:
    """For each colour but none: its nearest neighbour and the limits that follow from it for a marker of ``width_cm``."""
    found = pairs(palette)
    power = fall_off(palette)
    out = []
    for colour in palette.colours:
        mine = [pair for pair in found if colour.name in {pair.first, pair.second}]
        if colour.name == NONE or not mine:
            continue
        worst = mine[0]
        other = worst.second if worst.first == colour.name else worst.first
        speed = None
        if worst.samples is not None and palette.rate_hz > 0:
            speed = width_cm * palette.rate_hz / max(worst.samples, 1.0)
        height = None
        if power is not None and power > 0.1 and colour.by_height and worst.mahalanobis > 0:
            # At the height where the distance has shrunk so far that a marker at 25 cm/s yields just enough samples.
            have = samples_over(width_cm, 25.0, palette.rate_hz) if palette.rate_hz else 8.0
            needed = worst.mahalanobis / math.sqrt(max(have / max(worst.samples or math.inf, 1e-9), 1e-9))
            middle = math.exp(sum(math.log(mm) for mm, _ in colour.by_height) / len(colour.by_height))
            height = middle * (worst.mahalanobis / needed) ** (1.0 / power) if needed > 0 else None
        out.append(Reach(colour.name, other, worst.samples, speed, height))
    return out
