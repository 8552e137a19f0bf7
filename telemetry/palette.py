"""What each colour looks like to one sensor in one light."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

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
    codes: Mapping[str, float] = field(default_factory=dict)
    """What the sensor's own colour code said over this colour: name -> share of the samples. Empty: no codes sent."""
    by_height: tuple[tuple[float, NDArray[np.float64]], ...] = ()
    """(height in mm, mean (4,)) of every capture at a stated height, lowest first."""
    lag1: float = 0.0
    """Correlation of a sample with the one before it: near 1, more samples hardly tell more."""


@dataclass(frozen=True, slots=True)
class Palette:
    """The colours a sensor may meet, ``none`` (the empty field) among them where it is known.

    ``measured`` is False for the built-in default, whose values are typical, not this sensor's.
    """

    name: str
    colours: tuple[PaletteColour, ...]
    measured: bool
    ranges: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    """Channel -> (black level, full scale), where known."""
    rate_hz: float = 0.0
    """Fresh samples a second during the captures; 0: not known."""
    made: str = ""
    """When and from what, in words."""
    remarks: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """The colours' names in the palette's order."""
        return tuple(colour.name for colour in self.colours)

    def get(self, name: str) -> PaletteColour | None:
        """The colour of that name, None where the palette has none such."""
        return next((colour for colour in self.colours if colour.name == name), None)

    @property
    def channels(self) -> tuple[str, ...]:
        """The raw channels that every colour has a value for."""
        known = np.all(np.isfinite([colour.mean for colour in self.colours]), axis=0) if self.colours else np.zeros(4, bool)
        return tuple(name for name, here in zip(CHANNELS, known, strict=True) if here)
