"""Which tells the colours apart better, the sensor's own code or its raw channels: from a palette's captures."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from telemetry.course import NONE
from telemetry.findings import Finding, FindingKind
from telemetry.palette import Palette, PaletteColour

RAW: Final = frozenset({"red", "green", "blue"})
STEADY: Final = 0.01
"""A share of red, green or blue is taken to waver by this much in a drive, however still a capture was."""


@dataclass(frozen=True, slots=True)
class Apart:
    """How often a single sample is taken for another colour, by code and by raw channels; the worst colour counts."""

    by_code: float
    by_raw: float

    @property
    def raw_is_better(self) -> bool:
        """Of equals the code: it needs no palette, and no light to stay as it was."""
        return self.by_raw < self.by_code


def told_apart(palette: Palette, colours: Sequence[str]) -> Apart | None:
    """How well the captures of ``none`` and ``colours`` are told apart; None where the palette does not know them both ways.

    By code: the share of a capture's samples that had another code. By raw channels: the normal distribution's tail at half
    the way between two colours' shares of red, green and blue, in their spread on that way.
    """
    known = [palette.get(name) for name in dict.fromkeys((NONE, *colours))]
    captures = [one for one in known if one is not None and one.codes and np.isfinite(one.mean[:3]).all()]
    if not palette.measured or len(captures) < len(known) or len(captures) < 2:
        return None
    by_code = max(1.0 - one.codes.get(one.name, 0.0) for one in captures)
    looks = [_shares(one) for one in captures]
    by_raw = 0.0
    for i, (mean, spread) in enumerate(looks):
        for other, wide in looks[:i]:
            way = other - mean
            length = float(np.linalg.norm(way))
            unit = way / max(length, 1e-9)
            deviation = math.sqrt(float(unit @ (spread + wide) @ unit) / 2.0 + STEADY**2)
            by_raw = max(by_raw, 0.5 * math.erfc(length / 2.0 / deviation / math.sqrt(2.0)))
    return Apart(by_code, by_raw)


def _shares(colour: PaletteColour) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean and covariance of the shares of red, green and blue, to first order."""
    mean = np.maximum(colour.mean[:3], 0.0)
    total = max(float(mean.sum()), 1.0)
    share = mean / total
    turn = (np.eye(3) - share[:, None]) / total
    return share, turn @ np.nan_to_num(colour.covariance[:3, :3]) @ turn.T


_CLEAR: Final = 0.01


def is_clear(taken: Finding) -> bool:
    """Whether the channel taken tells every colour in 99 % of the captures' samples: then nothing hangs on the choice."""
    share = taken.numbers.get("by_raw" if taken.cause == "raw" else "by_code")
    return isinstance(share, float) and share < _CLEAR


def channel_taken(palette: Palette, colours: Sequence[str], channels: frozenset[str]) -> Finding | None:
    """Which of both the stage ``auto`` reads by; None where there is no choice, or no measured palette to tell."""
    if not palette.measured or "colour" not in channels or not channels >= RAW:
        return None
    apart = told_apart(palette, colours)
    if apart is None:
        return Finding(FindingKind.CHANNEL_TAKEN, cause="code")
    shares = {"by_code": apart.by_code, "by_raw": apart.by_raw}
    return Finding(FindingKind.CHANNEL_TAKEN, cause="raw" if apart.raw_is_better else "code", numbers=shares)
