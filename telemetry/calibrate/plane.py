"""Colours in the chromaticity plane: where each lies, and how far single samples of it spread."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from telemetry.palette import Palette
from telemetry.palette_default import look

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Spot:
    """One colour: ``middle`` (2,) are its shares of red and green, ``spread`` (2, 2) the covariance of single samples."""

    name: str
    middle: Floats
    spread: Floats

    def outline(self, deviations: float = 2.0, points: int = 48) -> Floats:
        """(points, 2): the ellipse so many standard deviations around the middle, closed."""
        angle = np.linspace(0.0, 2.0 * np.pi, points)
        circle = np.column_stack([np.cos(angle), np.sin(angle)])
        values, axes = np.linalg.eigh(self.spread)
        return np.asarray(self.middle + deviations * (circle * np.sqrt(np.maximum(values, 0.0))) @ axes.T, dtype=np.float64)


def spots(palette: Palette) -> list[Spot]:
    """Every colour that has red, green and blue. The spread is carried over by the slope of the shares at the mean."""
    out = []
    for colour in palette.colours:
        mean = colour.mean[:3]
        if not np.isfinite(mean).all():
            continue
        middle = _shares(mean, palette)
        steps = np.maximum(np.abs(mean) * 1e-3, 1e-3)
        slope = np.column_stack([(_shares(mean + np.eye(3)[i] * steps[i], palette) - middle) / steps[i] for i in range(3)])
        covariance = np.nan_to_num(colour.covariance[:3, :3])
        out.append(Spot(colour.name, middle, slope @ covariance @ slope.T))
    return out


def _shares(values: Floats, palette: Palette) -> Floats:
    return np.asarray(look(values[None, :], palette.ranges)[0, :2], dtype=np.float64)
