"""What a palette is good for, in numbers: which colours will be confused, and how many samples tell them apart."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from telemetry.calibrate.capture import StillCapture
from telemetry.calibrate.colour_science import ciede2000, lab_from_linear
from telemetry.calibrate.tries import SURFACE, samples_needed
from telemetry.course import NONE
from telemetry.palette import Palette, PaletteColour

USUAL_WIDTH_CM = 3.0
ONE, OFTEN, SELDOM = 0.2, 0.05, 0.005
"""Shares of samples confused, from which on two colours are one to the sensor, will be confused, are now and then."""


@dataclass(frozen=True, slots=True)
class ColourPair:
    """Two colours. ``mahalanobis``: their distance in standard deviations of one sample, NaN without raw channels.

    ``ciede2000``: to the eye, None without red, green and blue. ``by_raw``, ``by_code``: share of single samples taken for
    the other by raw channels and by the sensor's codes, None where those are not known. ``samples``: so many in a row told
    the two apart in 99 of 100 tries on the captures; 0 where no number was enough, None where not tried.
    """

    first: str
    second: str
    mahalanobis: float
    ciede2000: float | None
    by_raw: float | None
    by_code: float | None
    samples: int | None = None

    @property
    def confusion(self) -> float:
        """Share of single samples confused by what tells the two apart better."""
        return min(share for share in (self.by_raw, self.by_code, 0.5) if share is not None)

    @property
    def verdict(self) -> str:
        """In words."""
        if self.confusion > ONE:
            return "one to this sensor"
        if self.confusion > OFTEN:
            return "will be confused"
        if self.confusion > SELDOM:
            return "now and then confused"
        by_levels = self.by_raw is not None and self.by_raw <= OFTEN and self.samples != 0
        if not by_levels and (self.by_code is None or self.by_code > SELDOM):
            return "not surely told apart"
        if not by_levels:
            return "safe by codes only"
        if self.by_code is not None and self.by_raw is not None and self.by_code > OFTEN:
            return "safe by levels only"
        return "safe"


def _deviation(colour: PaletteColour, other: PaletteColour, use: NDArray[np.int64]) -> NDArray[np.float64]:
    mean = (colour.covariance + other.covariance)[np.ix_(use, use)] / 2.0
    level = np.maximum(np.abs(colour.mean), np.abs(other.mean))[use]
    return np.asarray(mean + np.diag((SURFACE * level) ** 2))


def normal_tail(x: float) -> float:
    """P(standard normal > x)."""
    return 0.5 * math.erfc(x / math.sqrt(2.0))


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


def pairs(palette: Palette, captures: Sequence[StillCapture] = ()) -> list[ColourPair]:
    """Every pair of colours, the most easily confused first. ``captures``: those it was made of, to try on how many samples
    tell a pair apart. Empty where neither raw channels nor codes were captured.
    """
    use = np.flatnonzero([name in palette.channels for name in ("red", "green", "blue", "refl")])
    if not use.size and not any(colour.codes for colour in palette.colours):
        return []
    lab = balanced_lab(palette)
    out = []
    for one, two in combinations(palette.colours, 2):
        distance, by_raw, needed = math.nan, None, None
        if use.size:
            apart = (one.mean - two.mean)[use]
            distance = math.sqrt(max(float(apart @ np.linalg.solve(_deviation(one, two, use), apart)), 0.0))
            by_raw = normal_tail(distance / 2.0)
            mine = [[capture for capture in captures if capture.colour == name] for name in (one.name, two.name)]
            needed = samples_needed(mine[0], mine[1], use) if all(mine) else None
        seen = float(ciede2000(lab[one.name], lab[two.name])) if one.name in lab and two.name in lab else None
        out.append(ColourPair(one.name, two.name, distance, seen, by_raw, _by_code(one, two), needed))
    return sorted(out, key=lambda pair: (-pair.confusion, pair.mahalanobis))


def _by_code(one: PaletteColour, two: PaletteColour) -> float | None:
    """Share of samples whose code would be taken for the other colour's (Bayes' error of two equally likely colours)."""
    if not one.codes or not two.codes:
        return None
    return 0.5 * sum(min(share, two.codes.get(code, 0.0)) for code, share in one.codes.items())


def alike(palette: Palette, doubtful: Collection[str] = ()) -> list[str]:
    """One sentence for each pair of colours that are one to this sensor; ``doubtful``: of those the captures may be bad."""
    out = []
    for pair in pairs(palette):
        again = [name for name in (pair.first, pair.second) if name in doubtful]
        if pair.confusion > ONE and again:
            out.append(
                f"{pair.first} and {pair.second} are not told apart here: capture {' and '.join(again)} again, held still"
            )
        elif pair.confusion > ONE:
            out.append(f"{pair.first} and {pair.second} are one colour to this sensor: take another surface for one of them")
    return out


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


def called_alike(palette: Palette) -> list[tuple[str, str]]:
    """Pairs of colours of which the sensor calls each by the other's name."""
    return swapped({one.name: max(one.codes, key=one.codes.__getitem__) for one in palette.colours if one.codes})


def swapped(likeness: Mapping[str, str]) -> list[tuple[str, str]]:
    """Pairs of colours of which each looks like the other: their captures may have been exchanged."""
    return [(one, like) for one, like in likeness.items() if one < like and likeness.get(like) == one]
