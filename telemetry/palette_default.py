"""The palette used where none was measured: typical surfaces, an even sensor, no particular light.

The values are common practice, no source: shares of full scale that matt card of that name sends back to a sensor whose
three channels see a white card alike. They tell red from green, not rust from brown: a measured palette does that.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from telemetry.palette import CHANNELS, Palette, PaletteColour

FULL_SCALES = (1.0, 100.0, 255.0, 1023.0, 1024.0, 4095.0, 65535.0)
"""Full scales that sensors use; the first that holds the largest value seen is taken where the stream says nothing."""

TYPICAL: Mapping[str, tuple[float, float, float]] = {
    "none": (0.13, 0.13, 0.13),
    "black": (0.03, 0.03, 0.03),
    "white": (0.85, 0.85, 0.85),
    "grey": (0.36, 0.36, 0.36),
    "red": (0.58, 0.07, 0.07),
    "orange": (0.75, 0.28, 0.06),
    "yellow": (0.80, 0.63, 0.10),
    "green": (0.09, 0.36, 0.13),
    "blue": (0.06, 0.14, 0.48),
    "brown": (0.22, 0.11, 0.06),
    "pink": (0.80, 0.36, 0.50),
    "purple": (0.28, 0.10, 0.40),
    "rust": (0.44, 0.13, 0.06),
    "leaf": (0.17, 0.44, 0.10),
    "sky": (0.22, 0.48, 0.75),
}
"""Name -> red, green, blue as shares of full scale."""


def full_scale(values: NDArray[np.float64]) -> float:
    """The full scale that ``values`` of one channel were probably sent in; NaN is ignored."""
    known = values[np.isfinite(values)]
    top = float(known.max()) if known.size else 1.0
    return next((scale for scale in FULL_SCALES if top <= scale), top)


def default_palette(ranges: Mapping[str, tuple[float, float]] | None = None) -> Palette:
    """Typical colours in the units of a stream whose channels have ``ranges`` (channel -> black level, full scale).

    A channel without a range gets 0..1023 (refl: 0..100). The covariance says how far a real surface of that name may lie
    from the typical one, not how noisy a sensor is.
    """
    given = dict(ranges or {})
    black, top = np.transpose([given.get(name, (0.0, 100.0 if name == "refl" else 1023.0)) for name in CHANNELS])
    span = np.asarray(top - black, dtype=np.float64)
    colours = []
    for name, (red, green, blue) in TYPICAL.items():
        # A reflected-light reading is most often taken in red light.
        share = np.array([red, green, blue, 0.8 * red + 0.2 * green])
        spread = (0.02 + 0.15 * share) * span
        colours.append(PaletteColour(name, black + share * span, np.diag(spread**2), 0, {name: 1.0}))
    limits = {name: (float(low), float(high)) for name, low, high in zip(CHANNELS, black, top, strict=True)}
    return Palette("typical colours", tuple(colours), measured=False, ranges=limits, made="built in, not measured")


def look(values: NDArray[np.float64], ranges: Mapping[str, tuple[float, float]]) -> NDArray[np.float64]:
    """Chromaticity and brightness: ``values`` (n, >=3: red, green, blue) -> (n, 3): red share, green share, brightness 0..1.

    Shares are of the sum above the black levels; where nothing is above them, both are 1/3. Brightness is of the full scale.
    """
    limits = [ranges.get(name, (0.0, 1023.0)) for name in CHANNELS[:3]]
    black = np.array([low for low, _ in limits])
    span = np.array([high - low for low, high in limits])
    level = np.clip((np.atleast_2d(values)[:, :3] - black) / span, 0.0, None)
    total = level.sum(axis=1)
    safe = np.where(total > 0.0, total, 1.0)
    share = np.where(total[:, None] > 0.0, level / safe[:, None], 1.0 / 3.0)
    return np.column_stack([share[:, 0], share[:, 1], total / 3.0])


def nearest(palette: Palette, values: NDArray[np.float64], ranges: Mapping[str, tuple[float, float]]) -> NDArray[np.int64]:
    """The palette's nearest colour for each row of ``values`` (n, >=3), as indices into ``palette.colours``.

    Distance in red share, green share and the square root of brightness (even steps look about even, common practice).
    """
    seen = look(values, ranges)
    known = look(np.array([colour.mean for colour in palette.colours]), palette.ranges or ranges)
    seen[:, 2], known[:, 2] = np.sqrt(seen[:, 2]), np.sqrt(known[:, 2])
    away = ((seen[:, None, :] - known[None, :, :]) ** 2).sum(axis=2)
    return np.asarray(np.argmin(away, axis=1), dtype=np.int64)
