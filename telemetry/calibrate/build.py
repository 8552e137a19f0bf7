"""From still captures to a palette: means, covariances, behaviour with height and light, shares of the sensor's codes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from telemetry.calibrate.capture import StillCapture
from telemetry.course import NONE
from telemetry.errors import PaletteError
from telemetry.palette import Palette, PaletteColour


def build_palette(captures: Sequence[StillCapture], name: str = "palette", made: str = "") -> Palette:
    """A palette of all captures. Several of one colour (heights, lights) are pooled, each weighing the same.

    Raises PaletteError for no captures or a channel that only some colours have (it is left out where others remain).
    """
    if not captures:
        raise PaletteError("there is nothing to make a palette of", todo="Give at least none=FILE and one colour.")
    order = dict.fromkeys(capture.colour for capture in captures)
    names = sorted(order, key=lambda colour: colour != NONE)
    common = np.all([np.isfinite(capture.mean) for capture in captures], axis=0)
    if not common.any() and not all(capture.codes for capture in captures):
        raise PaletteError(
            "the captures have no channel in common", todo="Take all captures with the same program on the robot."
        )
    colours = tuple(_colour(colour, [c for c in captures if c.colour == colour], common) for colour in names)
    rates = [capture.rate_hz for capture in captures if capture.rate_hz > 0]
    ranges = {channel: limits for capture in captures for channel, limits in capture.ranges.items()}
    remarks = [f"{capture.colour}: {doubt}" for capture in captures for doubt in capture.doubts]
    if NONE not in names:
        remarks.append("the empty field (none) was not captured: reading by evidence needs it to tell light from height")
    remarks += _saturated(captures)
    return Palette(name, colours, True, ranges, float(np.median(rates)) if rates else 0.0, made, tuple(remarks))


def _colour(name: str, captures: Sequence[StillCapture], common: NDArray[np.bool_]) -> PaletteColour:
    places = np.flatnonzero(common)
    means = np.array([np.where(common, capture.mean, np.nan) for capture in captures])
    mean = means.mean(axis=0)
    covariance = np.full((4, 4), np.nan)
    lags = []
    if places.size:
        within = np.zeros((places.size, places.size))
        for capture in captures:
            rows = capture.values[:, places]
            rows = rows[np.isfinite(rows).all(axis=1)]
            if len(rows) > 1:
                within += np.cov(rows.T).reshape(places.size, places.size) / len(captures)
                lags.append(lag1(rows))
        # Counts are whole: even a noiseless sensor is not known better than a step.
        covariance[np.ix_(places, places)] = within + np.eye(places.size) / 12.0
    codes: dict[str, float] = {}
    told = [capture.codes for capture in captures if capture.codes]
    for shares in told:
        for code, share in shares.items():
            codes[code] = codes.get(code, 0.0) + share / len(told)
    heights: dict[float, list[NDArray[np.float64]]] = {}
    for capture, one in zip(captures, means, strict=True):
        if capture.height_mm is not None:
            heights.setdefault(capture.height_mm, []).append(one)
    by_height = tuple((mm, np.mean(rows, axis=0)) for mm, rows in sorted(heights.items()))
    samples = sum(capture.samples for capture in captures)
    return PaletteColour(name, mean, covariance, samples, codes, by_height, float(np.mean(lags)) if lags else 0.0)


def lag1(rows: NDArray[np.float64]) -> float:
    """Correlation of each sample with the one before, the largest over the channels (n, c); 0 where nothing varies."""
    middle = rows - rows.mean(axis=0)
    power = (middle**2).sum(axis=0)
    product = (middle[1:] * middle[:-1]).sum(axis=0)
    known = power > 1e-9
    return float(np.clip(np.max(product[known] / power[known]), 0.0, 0.99)) if known.any() else 0.0


def _saturated(captures: Sequence[StillCapture]) -> list[str]:
    out = []
    for capture in captures:
        for place, channel in enumerate(("red", "green", "blue")):
            if channel in capture.ranges and np.isfinite(capture.mean[place]):
                low, high = capture.ranges[channel]
                if capture.mean[place] >= high - 0.01 * (high - low):
                    out.append(
                        f"{capture.colour}: {channel} is at its full scale ({high:g}): move the sensor away or dim the lamp"
                    )
    return out
