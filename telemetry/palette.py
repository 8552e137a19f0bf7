"""What each colour looks like to one sensor in one light."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

CHANNELS = ("red", "green", "blue", "refl")
"""The order of the raw channels in every mean and covariance; refl in %, the others as sent. NaN: not sent."""


@dataclass(frozen=True, slots=True)
class PaletteColour:
    """One colour. ``mean`` has shape (4,), ``covariance`` (4, 4), in the order of CHANNELS; ``samples`` it was made from."""

    name: str
    mean: NDArray[np.float64]
    covariance: NDArray[np.float64]
    samples: int


@dataclass(frozen=True, slots=True)
class Palette:
    """The colours a sensor may meet, ``none`` (the empty field) among them where it is known.

    ``measured`` is False for the built-in default, whose values are typical, not this sensor's.
    """

    name: str
    colours: tuple[PaletteColour, ...]
    measured: bool
