"""What a surface sends back into each channel of the sensor, from measured spectra (spectra.json names their sources)."""

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
    FIELD: "grey 35",
    "rust": "red", "orange": "orange", "leaf": "yellow green", "sky": "day sky", "white": "white", "pink": "magenta",
    "lemon": "yellow", "plum": "cabbage", "ink": "blue 75", "moss": "apple", "sand": "sand", "coal": "soot 74",
    "red": "red 11", "green": "grass", "blue": "blue", "yellow": "banana", "black": "black", "brown": "brown",
    "cyan": "cyan", "magenta": "magenta 94", "purple": "purple", "grey": "grey 50", "gray": "grey 50",
    "violet": "lavender", "turquoise": "bluish green", "teal": "green",
}  # fmt: skip
"""Our colour names -> which published patch they are. A name that is not here gets a patch of its own, see ``patch_of``."""

TAUGHT = {
    FIELD: "neutral 3.5",
    "rust": "red", "orange": "orange", "leaf": "yellow green", "sky": "cyan", "white": "white 9.5", "pink": "magenta",
    "lemon": "yellow", "plum": "purple", "ink": "blue", "moss": "foliage", "sand": "light skin", "coal": "black 2",
    "red": "moderate red", "green": "green", "blue": "purplish blue", "yellow": "orange yellow", "brown": "dark skin",
    "magenta": "blue flower", "grey": "neutral 5", "gray": "neutral 5",
}  # fmt: skip
"""Our colour names -> the patch of another chart by which the sensor's maker taught it that colour."""

_SPARE = ("tan", "pale blue", "grey 80", "salmon", "grey 70", "orange yellow", "carrot")
OWN_LAMP = "Phosphor LED YAG"  # a cold white LED
DAYLIGHT = frozenset({"ID65"})


@dataclass(frozen=True, slots=True)
class Spectra:
    """Measured spectra: ``nm`` (31,); by name reflectances (0..1) and lights (mean 1) of that length; ``sensor`` (31, 3).

    ``surfaces`` are driven past; ``taught`` is the other chart, by which the sensor knows its colours. Each column of
    ``sensor``, one a channel, adds up to 1.
    """

    nm: NDArray[np.float64]
    surfaces: dict[str, NDArray[np.float64]]
    taught: dict[str, NDArray[np.float64]]
    lights: dict[str, NDArray[np.float64]]
    sensor: NDArray[np.float64]
    source: str


@cache
def spectra() -> Spectra:
    """The data file, read once."""
    content = json.loads(files(__package__).joinpath("spectra.json").read_text(encoding="utf-8"))

    def by_name(what: str) -> dict[str, NDArray[np.float64]]:
        return {name: np.array(values) for name, values in content[what].items()}

    return Spectra(
        nm=np.array(content["nm"], dtype=np.float64), surfaces=by_name("surfaces"), taught=by_name("taught"),
        lights=by_name("lights"), sensor=np.column_stack(list(by_name("sensor").values())), source=content["source"],
    )  # fmt: skip


@cache
def _weights(light: str) -> NDArray[np.float64]:
    """Shape (31, 3): what each band of a perfect white adds to each channel under ``light``.

    White balance: under the sensor's own lamp a perfect white is 1 in every channel; any light gives 1 on average.
    """
    data = spectra()
    own = (data.lights[OWN_LAMP][:, None] * data.sensor).sum(axis=0)
    weights = data.lights[light][:, None] * data.sensor / own
    balanced: NDArray[np.float64] = weights / weights.sum(axis=0).mean()
    return balanced


def patch_of(colours: Sequence[str]) -> dict[str, str]:
    """Colour -> patch for every colour given; unknown names get spare patches in order.

    So whoever asks names the course's colours first, in their order: a name then looks the same in every run of that course.
    """
    taken, unknown = {}, 0
    for colour in dict.fromkeys(colours):  # one that comes twice is one surface
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


@cache
def taught_responses(colours: tuple[str, ...]) -> NDArray[np.float64]:
    """Shape (1 + colours, 3): what the sensor was taught for the empty field and each colour, under its own lamp.

    A colour that the other chart has no patch for was taught with the very surface that is driven past.
    """
    own = patch_of(colours)
    known = [spectra().taught[TAUGHT[FIELD]]]
    for colour in colours:
        patch = TAUGHT.get(colour.lower())
        known.append(spectra().surfaces[own[colour]] if patch is None else spectra().taught[patch])
    return np.array(known) @ _weights(OWN_LAMP)
