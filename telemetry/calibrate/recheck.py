"""On the day: has the sensor, its height or the light changed since the palette was made?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from telemetry.calibrate.capture import StillCapture
from telemetry.calibrate.outlook import swapped
from telemetry.calibrate.tries import SURFACE
from telemetry.errors import PaletteError
from telemetry.palette import CHANNELS, Palette, PaletteColour

AS_BEFORE = "as before"
SHIFTED = "shifted: re-calibrate"
OTHER_LIGHT = "dirty or other light"
BOTH = "other light or dirt, and another height or lamp"
EXCHANGED = "are two captures exchanged?"
ANOTHER = "was the sensor over another colour?"

HAND = 0.15
"""Up to this part all channels of a colour may change alike: so much a hand does (common practice, no source)."""
SHIFT = 0.03
"""Up to this part a channel may change against the others, in the middle of the colours, and no colour twice as much."""
UNEVEN = 0.3
"""Colours whose levels change by factors farther apart than this did not merely change in height: light was added."""
CLEAR = 2.0
"""Deviations from which on a change is rather no chance; they are counted generously, see _errors."""
CLEAREST = 0.25
"""Two colours' levels count for their contrast where they differ by this part of what the farthest two do."""
BATCHES, BATCH = 6, 20
"""At most so many batches, of so many samples at least."""
COLOURED = CHANNELS[:3]


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
    BOTH: "Set the sensor's height and the lamp as they were, shade it and check again, or calibrate again here.",
    ANOTHER: "Hold the sensor over the colour that it is said to be over, and check again.",
    EXCHANGED: "Hold the sensor over each colour that it is said to be over, and check again.",
}


@dataclass(frozen=True, slots=True)
class Recheck:
    """The whole answer: ``verdict`` a key of NEXT; ``why`` one sentence with the figures.

    ``doubtful``: colours whose capture was not still.
    """

    verdict: str
    why: str
    colours: tuple[ColourCheck, ...]
    doubtful: tuple[str, ...] = ()

    @property
    def same(self) -> bool:
        """Whether the palette still holds."""
        return self.verdict == AS_BEFORE

    @property
    def todo(self) -> str:
        """What to do now, one sentence."""
        if self.same or not self.doubtful:
            return NEXT[self.verdict]
        return f"Take {' and '.join(self.doubtful)} again first, held still. If the answer stays: {NEXT[self.verdict]}"


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
        why = f"the sensor's own codes agree in {100 * worst:.0f} % of the samples of the worst colour"
        return Recheck(AS_BEFORE if worst >= 0.8 else SHIFTED, why, checks)
    doubtful = tuple(dict.fromkeys(capture.colour for capture in captures if capture.doubts))
    return replace(_judged(palette, captures, checks), doubtful=doubtful)


def _judged(palette: Palette, captures: Sequence[StillCapture], checks: tuple[ColourCheck, ...]) -> Recheck:
    """A factor that all channels of a colour share is the hand or the height; a shift between them is light or dirt."""
    mixed = swapped({check.colour: check.looks_like for check in checks})
    if mixed:
        words = "; ".join(f"{first} looks like {second}, and {second} like {first}" for first, second in mixed)
        return Recheck(EXCHANGED, words, checks)
    taken = [check for check, one in zip(checks, captures, strict=True) if _is_another(palette, check, one)]
    if taken and len(taken) < len(checks) and all(check.deviations < CLEAR for check in checks if check not in taken):
        words = " and ".join(f"over {check.colour} levels and code are those of {check.looks_like}" for check in taken)
        return Recheck(ANOTHER, f"{words}, and the rest is as it was", checks)
    logs = np.log(np.array([check.ratio for check in checks])[:, :3])
    use = np.isfinite(logs).all(axis=0)
    if not use.any():  # reflected light alone
        logs, use = np.log(np.array([check.ratio for check in checks])[:, 3:]), np.ones(1, bool)
    logs = logs[:, use]
    common = logs.mean(axis=1)
    errors = np.array([_errors(palette, capture, use) for capture in captures])
    names = [name for name, here in zip(COLOURED, use, strict=False) if here]
    light, percent = _shift(checks, logs - common[:, None], errors[:, 1:], names)
    level = float(np.median(common))
    if float(np.ptp(common)) > max(UNEVEN, CLEAR * float(errors[:, 0].max())):
        several = zip(checks[:4], common, strict=False)
        spread = ", ".join(f"{check.colour} x{math.exp(value):.2f}" for check, value in several)
        light = [*light, f"the colours changed by unlike factors ({spread})"]
        level = _contrast(palette, captures)
    moved = abs(level) > max(HAND, CLEAR * float(_of_median(errors[:, 0])))
    others = [check for check in checks if check.looks_like != check.colour]
    wrong = [f"{check.colour} now looks most like {check.looks_like}" for check in others]
    if light:
        verdict = BOTH if moved else OTHER_LIGHT
        height = [f"what stands out does so x{math.exp(level):.2f} as far, as from another height or under another lamp"]
        return Recheck(verdict, "; ".join([*light, *(height if moved else []), *wrong[:1]]), checks)
    if moved or wrong:
        words = "another height, lamp or mode" if moved else "but not every colour is itself"
        said = f"every level is x{math.exp(level):.2f} of the palette's: {words}"
        return Recheck(SHIFTED, "; ".join([said, *wrong[:1]]), checks)
    agree = f"the channels agree within {percent} %), and so is the height (levels x{math.exp(level):.2f}"
    return Recheck(AS_BEFORE, f"the light is the same ({agree})", checks)


def _is_another(palette: Palette, check: ColourCheck, capture: StillCapture) -> bool:
    """Whether a capture is of another colour: by levels it looks most like that, and by its code it is."""
    known, like = palette.get(check.colour), palette.get(check.looks_like)
    if known is None or like is None or known is like or not (known.codes and like.codes and capture.codes):
        return False
    own, other, now = (max(codes, key=codes.__getitem__) for codes in (known.codes, like.codes, capture.codes))
    return own != other == now


def _shift(
    checks: Sequence[ColourCheck], apart: NDArray[np.float64], errors: NDArray[np.float64], names: Sequence[str]
) -> tuple[list[str], int]:
    """What changed against the other channels, of all colours or else of one, as words; and by how many per cent at most.

    ``apart`` (colours, channels): logs of the ratios less their mean over the channels; ``errors``: of these.
    """
    middle = np.median(apart, axis=0)
    limits = np.maximum(SHIFT, CLEAR * _of_median(errors))
    worst = int(np.argmax(np.abs(middle) / limits))
    percent = max(1, math.ceil(100.0 * math.expm1(float(np.abs(middle).max()))))
    part = len(names) / max(len(names) - 1, 1)
    told = "of the palette's against the other channels"
    if abs(float(middle[worst])) > limits[worst]:
        return [f"{names[worst]} is x{math.exp(float(middle[worst]) * part):.2f} {told}"], percent
    odd = np.abs(apart) / np.maximum(2.0 * SHIFT, CLEAR * errors)
    one, channel = divmod(int(np.argmax(odd)), len(names))
    if odd[one, channel] > 1.0:
        return [
            f"over {checks[one].colour} {names[channel]} is x{math.exp(float(apart[one, channel]) * part):.2f} {told}"
        ], percent
    return [], percent


def _of_median(errors: NDArray[np.float64]) -> NDArray[np.float64]:
    """Deviation of the median over colours that err so (colours, ...): pi / 2 times the variance of their mean."""
    return np.asarray(np.median(errors, axis=0) * math.sqrt(math.pi / 2.0 / len(errors)))


def _contrast(palette: Palette, captures: Sequence[StillCapture]) -> float:
    """Log of how far the colours lie apart now, against the palette: added light leaves that, another height does not."""
    known = {colour.name: colour.mean for colour in palette.colours}
    then = np.array([known[capture.colour] for capture in captures])
    now = np.array([capture.mean for capture in captures])
    first, second = np.triu_indices(len(captures), 1)
    gaps, gaps_now = then[first] - then[second], now[first] - now[second]
    use = np.isfinite(gaps) & np.isfinite(gaps_now)
    use &= np.abs(gaps) > CLEAREST * np.max(np.abs(gaps), axis=0, initial=0.0, where=use)
    ratios = gaps_now[use] / gaps[use]
    ratios = ratios[ratios > 0.0]
    return float(np.median(np.log(ratios))) if ratios.size else 0.0


def _errors(palette: Palette, capture: StillCapture, use: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Deviations of a colour's common log ratio, and of each channel's against the others (1 + channels).

    By batch means (Law, Simulation Modeling and Analysis, chapter 9): means of successive stretches of the capture differ as
    poses of the hand do, which the deviation of single samples does not show. The palette's captures are taken to err alike.
    """
    places = np.flatnonzero(use) if use.size == len(COLOURED) else [3]
    black = np.array([palette.ranges.get(name, (0.0, 1.0))[0] for name in CHANNELS])
    rows = (capture.values - black)[:, places]
    rows = rows[np.isfinite(rows).all(axis=1)]
    floor = np.full(1 + len(places), _error(palette, capture))
    batches = min(BATCHES, len(rows) // BATCH)
    if batches < 2:
        return floor
    relative = rows / np.maximum(rows.mean(axis=0), 1.0)
    common = relative.mean(axis=1, keepdims=True)
    parts = np.array_split(np.hstack([common, relative - common]), batches)
    few = 0.94 + 0.65 / (batches - 1)  # Student's t of three colours' batches beside the normal distribution
    wide = np.array([part.mean(axis=0) for part in parts]).std(axis=0, ddof=1)
    return np.asarray(np.hypot(floor, few * wide * math.sqrt(2.0 / batches)))


def _error(palette: Palette, capture: StillCapture) -> float:
    """Deviation of the log of a channel's mean, palette and capture together, dependence of successive samples counted."""
    known = palette.get(capture.colour)
    if known is None:
        return 0.0
    use = np.isfinite(known.mean[:3])
    black = np.array([palette.ranges.get(name, (0.0, 1.0))[0] for name in COLOURED])
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
    black = np.array([palette.ranges.get(name, (0.0, 1.0))[0] for name in CHANNELS])
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
