"""Measured surfaces, lamps and camera sensitivities, as colour-science carries them: 380 to 780 nm in steps of 5.

- surfaces: the 24-patch chart (ISO 17321-1), the test samples of CIE 13.3-1995, the 99 samples of CIE 224:2017;
- lamps: CIE 015:2018 illuminants A, D, FL and LED;
- sensor: a camera measured by NPL (Darrodi et al. 2015, J. Opt. Soc. Am. A 32, 381).

The built-in robot has the other camera of that work, other lamps and other charts, so that nothing measured is shared.
"""

from __future__ import annotations

import gzip
import warnings
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
NM = np.arange(380.0, 781.0, 5.0)
CAMERAS = ("Sigma SDMerill (NPL)",)
OWN_LAMPS = ("LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5", "LED-V1", "LED-V2", "LED-RGB1")
HALL_LAMPS = ("FL2", "FL4", "FL7", "FL8", "FL11", "FL12", "LED-B3", "LED-B5", "A")
DAY = ("D65", "D55", "D75")


@dataclass(frozen=True)
class Measured:
    """``surfaces``: set -> (n, 81) reflectances; ``lamps``: name -> (81,), mean 1; ``cameras``: name -> (81, 3)."""

    surfaces: dict[str, Floats]
    lamps: dict[str, Floats]
    cameras: dict[str, Floats]


@cache
def measured() -> Measured:
    """Everything, read once."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns that it has no plotting library
        import colour
        from colour.quality.datasets import SDS_TCS

    def on_grid(one: object) -> Floats:
        return np.interp(NM, one.wavelengths, one.values)  # type: ignore[attr-defined]

    packed = Path(colour.quality.__file__).parent / "datasets" / "tcs_cfi2017_5_nm.csv.gz"
    rows = np.array([[float(v) for v in line.split(",")] for line in gzip.decompress(packed.read_bytes()).decode().split()])
    surfaces = {
        "chart": np.array([on_grid(one) for one in colour.SDS_COLOURCHECKERS["ISO 17321-1"].values()]),
        "cie 13.3": np.array([on_grid(one) for one in SDS_TCS["CIE 1995"].values()]),
        "cie 224": rows[:, 1:].T,
    }
    names = {*OWN_LAMPS, *HALL_LAMPS, *DAY}
    lamps = {name: on_grid(colour.SDS_ILLUMINANTS[name]) for name in sorted(names)}
    cameras = {}
    for name in CAMERAS:
        one = colour.MSDS_CAMERA_SENSITIVITIES[name]
        values = np.column_stack([np.interp(NM, one.wavelengths, row, left=0.0, right=0.0) for row in one.values.T])
        cameras[name] = values / values.sum(axis=0)
    return Measured(surfaces, {name: lamp / lamp.mean() for name, lamp in lamps.items()}, cameras)


@dataclass(frozen=True)
class Eye:
    """A sensor with its own lamp: white-balanced, so that a perfect white under its own lamp is 1 in every channel."""

    camera: str
    lamp: str

    def sees(self, reflectance: Floats, light: str = "") -> Floats:
        """(..., 3) of reflectances (..., 81) under ``light`` (empty: its own lamp), both lights equally bright."""
        data = measured()
        filters = data.cameras[self.camera]
        own = filters * data.lamps[self.lamp][:, None]
        if not light:
            return np.asarray(reflectance @ own / own.sum(axis=0))
        other = filters * data.lamps[light][:, None]
        balance = own.sum(axis=0)
        return np.asarray(reflectance @ other / balance * (balance.sum() / other.sum()))


def apart(looks: Floats) -> Floats:
    """(n, n): how far colours (n, 3) are apart, in shares of red, green, blue and, half as heavy, in log lightness."""
    total = looks.sum(axis=1, keepdims=True) + 1e-9
    plane = np.hstack([looks / total, 0.15 * np.log(total)])
    return np.asarray(np.sqrt(((plane[:, None] - plane[None]) ** 2).sum(axis=2)))
