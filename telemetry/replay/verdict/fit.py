"""Whether a run's samples fit the palette: a shift between channels is another light, a common factor another height."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from telemetry.course import NONE, Truth
from telemetry.findings import Finding, FindingKind
from telemetry.palette import CHANNELS, Palette, PaletteColour
from telemetry.replay.verdict.seen import Seen

Floats = NDArray[np.float64]

SHIFT = 0.05
"""Part by which a channel may change against the others before the light is held to be another; more where the palette's own
captures spread more."""
DIM, BRIGHT = 0.55, 1.8
"""Levels of the markers against the palette's beyond which the sensor's height is held to be another."""
CLEAR = 3.0
"""Deviations from the field from which on a marker's level counts."""
COLOURS = 3
"""Markers of so many colours at least tell whether two columns are exchanged."""
EXCHANGED_FITS, MISFITS, FARTHER = 0.2, 0.3, 2.5
"""With two columns exchanged, the channels' ratios must fit the palette's within the first part; as they are they must be
off by the second, and so many times as far. No light or height exchanges channels. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Fit:
    """``shift``: the greatest change of a channel against the mean of all, of the field, else of the median marker.

    ``channel`` and ``change`` say which and how (a factor). ``level``: the markers' levels as a factor of the palette's.
    ``allowed``: the shift that the palette's own captures would show. ``exchanged``: two channels that fit the palette only
    in each other's place; empty as a rule.
    """

    shift: float
    channel: str
    change: float
    level: float
    allowed: float
    exchanged: tuple[str, ...] = ()

    @property
    def stale(self) -> bool:
        """Whether the palette is of another light or height."""
        return self.shift > self.allowed or not DIM <= self.level <= BRIGHT

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What does not fit; where two channels are exchanged, only that can be told."""
        if self.exchanged:
            return (Finding(FindingKind.COLUMNS_EXCHANGED, numbers={"channels": self.exchanged}),)
        out = []
        if self.shift > self.allowed:
            out.append(Finding(FindingKind.OTHER_LIGHT, "", self.channel, {"factor": self.change}))
        if not DIM <= self.level <= BRIGHT:
            out.append(Finding(FindingKind.OTHER_HEIGHT, numbers={"factor": self.level}))
        return tuple(out)


def fit_of(seen: Seen, palette: Palette, truth: Truth, ranges: dict[str, tuple[float, float]]) -> Fit | None:
    """How the levels seen compare with the palette's, the truth taken for right; None without raw channels or palette."""
    if not palette.measured:
        return None
    low = {**ranges, **palette.ranges}
    black = np.array([low.get(name, (0.0, 1.0))[0] for name in CHANNELS[:3]])
    none = palette.get(NONE)
    ground = [one for level in seen.fields if none is not None and (one := _logs(level, none.mean, black)) is not None]
    found = [
        (colour, one)
        for colour, slot in zip(truth, seen.slots, strict=True)
        if slot is not None and slot.contrast > CLEAR and (known := palette.get(colour)) is not None
        and (one := _logs(slot.level, known.mean, black)) is not None
    ]  # fmt: skip
    if not found:
        return None
    marks = [one for _, one in found]
    middle = np.median(np.array(marks), axis=0) if not ground else np.mean(np.array(ground), axis=0)
    off = middle - middle.mean()
    worst = int(np.argmax(np.abs(off)))
    level = float(np.exp(np.median(np.array(marks).mean(axis=1))))
    allowed = max(SHIFT, _spread(none, black) if ground and none is not None else 2.0 * SHIFT)
    exchanged = _exchanged([colour for colour, _ in found], np.array(marks), palette, black)
    return Fit(float(abs(off[worst])), CHANNELS[worst], math.exp(1.5 * float(off[worst])), level, allowed, exchanged)


def _exchanged(colours: Sequence[str], marks: Floats, palette: Palette, black: Floats) -> tuple[str, ...]:
    """The two channels that must be exchanged for the markers to fit; empty where that is not certain.

    ``marks`` (n, 3): logs of level / palette's. What all markers share in a channel is light, what all channels share in a
    marker is height: neither counts. One mean a colour, as what stands often must not outweigh the rest.
    """
    names = list(dict.fromkeys(colours))
    if len(names) < COLOURS:
        return ()
    then = np.array([np.log(known.mean[:3] - black) for name in names if (known := palette.get(name)) is not None])
    named = np.array(colours)
    now = then + np.array([marks[named == name].mean(axis=0) for name in names])
    as_sent = _misfit(now - then)
    tried = {pair: _misfit(now[:, order] - then) for pair, order in _EXCHANGES.items()}
    best = min(tried, key=tried.__getitem__)
    sure = tried[best] < EXCHANGED_FITS and as_sent > max(MISFITS, FARTHER * tried[best])
    return best if sure else ()


_EXCHANGES = {("red", "green"): [1, 0, 2], ("red", "blue"): [2, 1, 0], ("green", "blue"): [0, 2, 1]}


def _misfit(logs: Floats) -> float:
    """Root mean square of what is neither a channel's nor a colour's (colours, channels)."""
    rest = logs - logs.mean(axis=0) - logs.mean(axis=1, keepdims=True) + logs.mean()
    return float(np.sqrt(np.mean(rest**2)))


def _logs(level: Floats, mean: Floats, black: Floats) -> Floats | None:
    """log(level / the palette's) of red, green and blue; None where one is missing or too dark to be told."""
    now, then = level[:3] - black, mean[:3] - black
    if not (np.isfinite(now).all() and np.isfinite(then).all()) or (now <= 1.0).any() or (then <= 2.0).any():
        return None
    return np.asarray(np.log(now / then))


def _spread(colour: PaletteColour, black: Floats) -> float:
    """Deviation of single samples of a capture in log(channel / mean of channels): how far poses alone shift them."""
    mean = np.maximum(colour.mean[:3] - black, 1.0)
    relative = np.nan_to_num(colour.covariance[:3, :3]) / np.outer(mean, mean)
    centre = np.eye(3) - 1.0 / 3.0
    return float(np.sqrt(np.max(np.diag(centre @ relative @ centre))))
