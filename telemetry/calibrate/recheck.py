"""On the day: has the sensor, its height or the light changed since the palette was made?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from telemetry.calibrate.capture import StillCapture
from telemetry.calibrate.outlook import SURFACE
from telemetry.errors import PaletteError
from telemetry.palette import Palette, PaletteColour

AS_BEFORE = "as before"
SHIFTED = "shifted: re-calibrate"
OTHER_LIGHT = "dirty or other light"

ALIKE = 0.06
"""Up to this part of the level a change is no change (common practice, no source)."""
UNEVEN = 0.06
"""Channels or colours whose gains differ by more than this did not merely change in height."""


@dataclass(frozen=True, slots=True)
class ColourCheck:
    """One colour again: ``ratio`` (4,) of its level now to the palette's, ``deviations`` from it, which colour it now looks
    most like, and with codes the share that still says what it said most.
    """

    colour: str
    ratio: NDArray[np.float64]
    deviations: float
    looks_like: str
    code_agrees: float | None


NEXT = {
    AS_BEFORE: "The palette still holds: nothing to do.",
    SHIFTED: "Set the sensor's height, the lamp and mode as they were and check again, or learn the colours anew here.",
    OTHER_LIGHT: "Shade the sensor from the hall's light and check again, or learn the colours anew in this light.",
}


@dataclass(frozen=True, slots=True)
class Recheck:
    """The whole answer: ``verdict`` one of AS_BEFORE, SHIFTED, OTHER_LIGHT; ``why`` one sentence with the figures."""

    verdict: str
    why: str
    colours: tuple[ColourCheck, ...]

    @property
    def same(self) -> bool:
        """Whether the palette still holds."""
        return self.verdict == AS_BEFORE

    @property
    def todo(self) -> str:
        """What to do now, one sentence."""
        return NEXT[self.verdict]


def recheck(palette: Palette, captures: Sequence[StillCapture]) -> Recheck:
    """Compare still captures with the palette. Raises PaletteError for a colour that it does not know."""
    if not captures:
        raise PaletteError("nothing was captured to compare", todo="Give a few colours: none=FILE red=FILE.")
    checks = tuple(_check(palette, capture) for capture in captures)
    coded = [check.code_agrees for check in checks if check.code_agrees is not None]
    ratios = np.array([check.ratio for check in checks])
    known = np.isfinite(ratios).all(axis=0)
    if not known.any():
        if not coded:
            raise PaletteError(
                "palette and captures have no channel in common", todo="Use the robot the palette was made with."
            )
        worst = min(coded)
        why = f"the sensor's own codes agree in {worst:.0%} of the samples of the worst colour"
        return Recheck(AS_BEFORE if worst >= 0.8 else SHIFTED, why, checks)
    wrong = [check for check in checks if check.looks_like != check.colour]
    ratios = ratios[:, known]
    middle = float(np.median(ratios))
    farthest = max(checks, key=lambda check: check.deviations)
    by_colour = np.median(ratios, axis=1)
    by_channel = np.median(ratios, axis=0)
    uneven = float(max(np.ptp(by_channel), np.ptp(by_colour)))
    change = float(np.max(np.abs(ratios - 1.0)))
    if change <= ALIKE and not wrong:
        return Recheck(AS_BEFORE, f"every level is within {change:.0%} of the palette's", checks)
    if not wrong and farthest.deviations <= 2.0:
        return Recheck(AS_BEFORE, f"the farthest, {farthest.colour}, is {farthest.deviations:.1f} deviations off", checks)
    confused = f"; {wrong[0].colour} now looks most like {wrong[0].looks_like}" if wrong else ""
    if uneven > UNEVEN:
        spread = ", ".join(f"{check.colour} x{np.median(check.ratio[known]):.2f}" for check in checks[:4])
        return Recheck(OTHER_LIGHT, f"the change is uneven over channels or colours ({spread}){confused}", checks)
    return Recheck(SHIFTED, f"every level is x{middle:.2f} of the palette's: another height, lamp or mode{confused}", checks)


def _check(palette: Palette, capture: StillCapture) -> ColourCheck:
    known = palette.get(capture.colour)
    if known is None:
        listed = ", ".join(palette.names)
        raise PaletteError(f"the palette has no colour '{capture.colour}'", where=capture.where, todo=f"It has {listed}.")
    use = np.isfinite(known.mean) & np.isfinite(capture.mean)
    black = np.array([palette.ranges.get(name, (0.0, 1.0))[0] for name in ("red", "green", "blue", "refl")])
    ratio = np.full(4, math.nan)
    ratio[use] = np.maximum(capture.mean - black, 0.5)[use] / np.maximum(known.mean - black, 0.5)[use]
    agrees = None
    if known.codes and capture.codes:
        agrees = capture.codes.get(max(known.codes, key=lambda code: known.codes[code]), 0.0)
    away = _deviations(known, capture.mean, use)
    looks = min(palette.colours, key=lambda colour: _deviations(colour, capture.mean, use)).name if use.any() else known.name
    return ColourCheck(capture.colour, ratio, away, looks, agrees)


def _deviations(colour: PaletteColour, mean: NDArray[np.float64], use: NDArray[np.bool_]) -> float:
    """Root mean square over the channels of the difference, in deviations of a capture's mean."""
    if not use.any():
        return 0.0
    spread = np.sqrt(np.diag(colour.covariance)[use] / 4.0 + (SURFACE * np.abs(colour.mean[use])) ** 2 + 1.0)
    return float(np.sqrt(np.mean(((mean - colour.mean)[use] / spread) ** 2)))
