"""What a surface sends back into each channel of the sensor, from published spectra (spectra.json names their source)."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

FIELD = "field"
PATCHES = {
    FIELD: "neutral 3.5",
    "rust": "red", "orange": "orange", "leaf": "green", "sky": "cyan", "white": "white 9.5", "pink": "magenta",
    "lemon": "yellow", "plum": "purple", "ink": "blue", "moss": "foliage", "sand": "light skin", "coal": "black 2",
    "red": "red 11", "green": "strong green", "blue": "blue", "yellow": "yellow", "black": "black 2", "brown": "dark skin",
    "cyan": "cyan 57", "magenta": "magenta 94", "purple": "purple", "grey": "neutral 5", "gray": "neutral 5",
}  # fmt: skip
"""Our colour names -> which published patch they are. A name that is not here gets a patch of its own, see ``patch_of``."""

_SPARE = (
    "blue sky", "yellow green", "orange yellow", "purplish blue", "moderate red", "bluish green", "blue flower",
    "neutral 6.5",
)  # fmt: skip
OWN_LAMP = "LED-B5"  # a cold white LED
CENTRES_NM = (615.0, 540.0, 465.0)
WIDTHS_NM = (32.0, 36.0, 28.0)  # standard deviations; red, green, blue filters in plain silicon, from memory
DAYLIGHT = frozenset({"D65"})


@dataclass(frozen=True, slots=True)
class Spectra:
    """Published spectra: ``nm`` (31,), and reflectances (0..1) and lights (mean 1) of that length by name."""

    nm: NDArray[np.float64]
    surfaces: dict[str, NDArray[np.float64]]
    lights: dict[str, NDArray[np.float64]]
    source: str


@cache
def spectra() -> Spectra:
    """The data file, read once."""
    content = json.loads(files(__package__).joinpath("spectra.json").read_text(encoding="utf-8"))
    return Spectra(
        nm=np.array(content["nm"], dtype=np.float64),
        surfaces={name: np.array(values) for name, values in content["surfaces"].items()},
        lights={name: np.array(values) for name, values in content["lights"].items()},
        source=content["source"],
    )


@cache
def _weights(light: str) -> NDArray[np.float64]:
    """Shape (31, 3): what each band of a perfect white adds to each channel under ``light``.

    White balance: under the sensor's own lamp a perfect white is 1 in every channel; any light gives 1 on average.
    """
    data = spectra()
    centres, widths = np.array(CENTRES_NM), np.array(WIDTHS_NM)
    filters = np.exp(-0.5 * ((data.nm[:, None] - centres) / widths) ** 2)
    own = (data.lights[OWN_LAMP][:, None] * filters).sum(axis=0)
    weights = data.lights[light][:, None] * filters / own
    balanced: NDArray[np.float64] = weights / weights.sum(axis=0).mean()
    return balanced


def patch_of(colours: Sequence[str]) -> dict[str, str]:
    """Colour -> patch for every colour given; unknown names get spare patches in order."""
    taken, unknown = {}, 0
    for colour in colours:
        patch = PATCHES.get(colour.lower())
        if patch is None:
            patch = _SPARE[unknown % len(_SPARE)]
            unknown += 1
        taken[colour] = patch
    return taken


def responses(patches: Sequence[str], light: str = OWN_LAMP) -> NDArray[np.float64]:
    """Shape (patches, 3): red, green, blue of each patch under ``light``; a perfect white is 1 on average."""
    reflectances = np.array([spectra().surfaces[patch] for patch in patches])
    return reflectances @ _weights(light)
