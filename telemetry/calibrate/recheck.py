"""On the day: has the sensor, its height or the light changed since the palette was made?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from telemetry.calibrate.capture import StillCapture
from telemetry.calibrate.tries import SURFACE
from telemetry.errors import PaletteError
from telemetry.palette import Palette, PaletteColour

AS_BEFORE = "as before"
SHIFTED = "shifted: re-calibrate"
OTHER_LIGHT = "dirty or other light"

HAND = 0.15
"""Up to this part all channels of a colour may change alike: so much a hand does (common practice, no source)."""
SHIFT = 0.03
"""Up to this part a channel may change against the others, in the middle of the colours, and no colour twice as much."""
UNEVEN = 0.3
"""Colours whose levels change by factors farther apart than this did not merely change in height: light was added."""
CLEAR = 3.0
"""Deviations from which on a change is no chance."""


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
    SHIFTED: "Set the sensor's height, the lamp and mode as they were and check again, or calibrate again here.",
    OTHER_LIGHT: "Shade the sensor from the hall's light and check again, or calibrate again in this light.",
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
    if not np.isfinite(ratios).all(axis=0).any():
        if not coded:
            raise PaletteError(
                "palette and captures have no channel in common", todo="Use the robot the palette was made with."
            )
        worst = min(coded)
        why = f"the sensor's own codes agree in {worst:.0%} of the samples of the worst colour"
        return Recheck(AS_BEFORE if worst >= 0.8 else SHIFTED, why, checks)
    return _judged(palette, captures, checks)


def _judged(palette: Palette, captures: Sequence[StillCapture], checks: tuple[ColourCheck, ...]) -> Recheck:
    """A factor that all channels of a colour share is the hand or the height; a shift between them is light or dirt."""
    logs = np.log(np.array([check.ratio for check in checks])[:, :3])
    use = np.isfinite(logs).all(axis=0)
    if not use.any():  # reflected light alone
        logs, use = np.log(np.array([check.ratio for check in checks])[:, 3:]), np.ones(1, bool)
    logs = logs[:, use]
    common = logs.mean(axis=1)
    apart = logs - common[:, None]
    middle = np.median(apart, axis=0)
    errors = np.array([_error(palette, capture) for capture in captures])
    worst = int(np.argmax(np.abs(middle)))
    odd = np.abs(apart).max(axis=1)
    oddest = int(np.argmax(odd - np.maximum(2.0 * SHIFT, CLEAR * errors)))
    level = float(np.exp(np.median(common)))
    wrong = [check for check in checks if check.looks_like != check.colour]
    confused = f"; {wrong[0].colour} now looks most like {wrong[0].looks_like}" if wrong else ""
    names = [name for name, here in zip(("red", "green", "blue"), use, strict=False) if here]
    if abs(float(middle[worst])) > max(SHIFT, CLEAR * float(np.median(errors))):
        change = math.exp(float(middle[worst]) * len(names) / max(len(names) - 1, 1))
        why = f"{names[worst]} is x{change:.2f} of the palette's against the other channels{confused}"
        return Recheck(OTHER_LIGHT, why, checks)
    if odd[oddest] > max(2.0 * SHIFT, CLEAR * errors[oddest]):
        channel = int(np.argmax(np.abs(apart[oddest])))
        change = math.exp(float(apart[oddest, channel]) * 1.5)
        why = f"over {checks[oddest].colour} {names[channel]} is x{change:.2f} of the palette's against the other channels"
        return Recheck(OTHER_LIGHT, f"{why}{confused}", checks)
    if float(np.ptp(common)) > UNEVEN:
        spread = ", ".join(
            f"{check.colour} x{math.exp(value):.2f}" for check, value in zip(checks[:4], common, strict=False)
        )
        return Recheck(OTHER_LIGHT, f"the colours changed by unlike factors ({spread}){confused}", checks)
    if abs(math.log(level)) > HAND or wrong:
        words = (
            "another height, lamp or mode" if not wrong or abs(math.log(level)) > HAND else "but not every colour is itself"
        )
        return Recheck(SHIFTED, f"every level is x{level:.2f} of the palette's: {words}{confused}", checks)
    percent = max(1, math.ceil(100.0 * math.expm1(float(np.abs(middle).max()))))
    why = f"the light is the same (the channels agree within {percent} %), and so is the height (levels x{level:.2f})"
    return Recheck(AS_BEFORE, why, checks)


def _error(palette: Palette, capture: StillCapture) -> float:
    """Deviation of the log of a channel's mean, palette and capture together, dependence of successive samples counted."""
    known = palette.get(capture.colour)
    if known is None:
        return 0.0
    use = np.isfinite(known.mean[:3])
    black = np.array([palette.ranges.get(name, (0.0, 1.0))[0] for name in ("red", "green", "blue")])
    level = np.maximum(known.mean[:3] - black, 1.0)[use]
    if not use.any():
        return 0.0
    # A count is whole: of dark surfaces even a noiseless sensor does not tell a change of half a count.
    each = np.diag(known.covariance)[:3][use] / max(known.samples, 1) * 2.0 * (1.0 + known.lag1) / (1.0 - known.lag1) + 0.25
    return float(np.sqrt(np.median(each / level**2)))


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
    """Root mean square over the channels of the difference, in deviations of a capture held by hand."""
    if not use.any():
        return 0.0
    level = colour.mean[use]
    spread = colour.covariance[np.ix_(use, use)] / 4.0 + np.diag((SURFACE * level) ** 2 + 1.0)
    spread += HAND**2 / 4.0 * np.outer(level, level)  # a hand changes all channels alike
    away = (mean - colour.mean)[use]
    return float(np.sqrt(max(float(away @ np.linalg.solve(spread, away)), 0.0) / use.sum()))
