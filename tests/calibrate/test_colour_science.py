"""Our small colour science against published values and against colour-science."""

from __future__ import annotations

import csv
import warnings
from pathlib import Path

import numpy as np
import pytest

from telemetry.calibrate.colour_science import (
    D65,
    RGB_TO_XYZ,
    adapt_xyz,
    ciede2000,
    lab_from_linear,
    lab_from_xyz,
    linear_to_srgb,
    srgb_to_linear,
    white_balance,
    xyz_from_linear,
)

with warnings.catch_warnings():
    # It warns of optional parts that are not installed.
    warnings.simplefilter("ignore")
    import colour

PAIRS = list(csv.DictReader(Path(__file__).with_name("ciede2000.csv").read_text(encoding="utf-8").splitlines()))


def test_all_34_pairs_are_there() -> None:
    assert len(PAIRS) == 34


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: pair["dE00"])
def test_ciede2000_gives_the_published_differences(pair: dict[str, str]) -> None:
    # Sharma, Wu, Dalal, 'The CIEDE2000 color-difference formula', Color Research & Application 30(1), 2005, table 1.
    one = [float(pair[name]) for name in ("L1", "a1", "b1")]
    two = [float(pair[name]) for name in ("L2", "a2", "b2")]
    assert float(ciede2000(one, two)) == pytest.approx(float(pair["dE00"]), abs=5e-5)
    assert float(ciede2000(two, one)) == pytest.approx(float(pair["dE00"]), abs=5e-5)


def test_ciede2000_agrees_with_colour_science_on_many_pairs_at_once() -> None:
    rng = np.random.default_rng(1)
    one = rng.uniform((0, -100, -100), (100, 100, 100), (300, 3))
    two = rng.uniform((0, -100, -100), (100, 100, 100), (300, 3))
    assert ciede2000(one, two) == pytest.approx(colour.delta_E(one, two, method="CIE 2000"), abs=1e-9)


def test_lab_agrees_with_colour_science() -> None:
    xyz = np.random.default_rng(2).uniform(0.0, 1.0, (200, 3))
    white = D65 / D65.sum()
    assert lab_from_xyz(xyz) == pytest.approx(colour.XYZ_to_Lab(xyz, white[:2]), abs=1e-6)


def test_srgb_agrees_with_the_standard_and_with_colour_science() -> None:
    # IEC 61966-2-1: middle grey 0.5 in sRGB is 0.2140 in linear light (from memory, and as colour-science gives it).
    assert float(srgb_to_linear(0.5)) == pytest.approx(0.2140, abs=1e-4)
    linear = np.linspace(0.0, 1.0, 101)
    assert linear_to_srgb(linear) == pytest.approx(colour.models.eotf_inverse_sRGB(linear), abs=1e-9)
    assert srgb_to_linear(linear_to_srgb(linear)) == pytest.approx(linear, abs=1e-6)


def test_the_matrix_of_srgb_is_that_of_the_standard() -> None:
    # IEC 61966-2-1:1999, 5.2 and 5.3: RGB to XYZ, and XYZ to RGB with four decimals (as printed; also in W3C's sRGB paper).
    printed = [[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]]
    assert np.linalg.inv(RGB_TO_XYZ) == pytest.approx(np.array(printed), abs=1.5e-4)
    # ITU-R BT.709-6, 1.3 and 1.4, which the standard takes over: chromaticities of red, green, blue and white (D65).
    columns = [*RGB_TO_XYZ.T, RGB_TO_XYZ.sum(axis=1)]
    published = [(0.6400, 0.3300), (0.3000, 0.6000), (0.1500, 0.0600), (0.3127, 0.3290)]
    assert [tuple(one[:2] / one.sum()) for one in columns] == [pytest.approx(pair, abs=2e-4) for pair in published]
    space = colour.RGB_COLOURSPACES["sRGB"]
    assert pytest.approx(space.matrix_RGB_to_XYZ, abs=1e-4) == RGB_TO_XYZ
    linear = np.random.default_rng(4).uniform(0.0, 1.0, (50, 3))
    theirs = colour.RGB_to_XYZ(linear, space, apply_cctf_decoding=False)
    assert xyz_from_linear(linear) == pytest.approx(theirs, abs=2e-4)


def test_the_curve_of_srgb_is_that_of_the_standard() -> None:
    # IEC 61966-2-1:1999, 5.2: straight up to 0.04045 (0.0031308 in linear light), slope 12.92, then the power 2.4.
    assert float(srgb_to_linear(0.04045)) == pytest.approx(0.04045 / 12.92, abs=1e-12)
    assert float(linear_to_srgb(0.0031308)) == pytest.approx(0.04045, abs=1e-6)
    below, above = srgb_to_linear([0.04044, 0.04046])
    assert 0.0 < above - below < 3e-6  # the two pieces meet
    every_byte = np.arange(256) / 255.0
    assert srgb_to_linear(every_byte) == pytest.approx(colour.models.eotf_sRGB(every_byte), abs=1e-9)
    assert np.round(255.0 * linear_to_srgb(srgb_to_linear(every_byte))) == pytest.approx(np.arange(256))


def test_white_is_white() -> None:
    assert lab_from_linear([1.0, 1.0, 1.0]) == pytest.approx([100.0, 0.0, 0.0], abs=0.02)
    assert xyz_from_linear([1.0, 1.0, 1.0]) == pytest.approx(D65, abs=2e-4)


def _chart_under(light: str) -> tuple[np.ndarray, np.ndarray]:
    """XYZ of the 24 patches under a published light, and of its white (CIE 1931 observer)."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
        shape = colour.SpectralShape(400, 700, 10)
        power = colour.SDS_ILLUMINANTS[light].copy().align(shape)
        match = observer.copy().align(shape).values
        surfaces = [sd.copy().align(shape).values for sd in colour.SDS_COLOURCHECKERS["ISO 17321-1"].values()]
        scale = float(power.values @ match[:, 1])
        white = power.values @ match / scale
        return np.array([(values * power.values) @ match / scale for values in surfaces]), white


@pytest.mark.parametrize("light", ["A", "FL2", "FL11", "LED-B1", "LED-B3"])
def test_white_balance_brings_real_surfaces_in_other_light_nearer_to_daylight(light: str) -> None:
    # Surfaces: ISO 17321-1 chart; lights: CIE 015:2018; both as colour-science carries them.
    day, day_white = _chart_under("D65")
    other, other_white = _chart_under(light)
    wanted = lab_from_xyz(day, day_white)
    as_seen = ciede2000(lab_from_xyz(other, day_white), wanted)
    adapted = ciede2000(lab_from_xyz(adapt_xyz(other, other_white, day_white), day_white), wanted)
    scaled = ciede2000(lab_from_xyz(white_balance(other, other_white, day_white), day_white), wanted)
    assert float(np.mean(adapted)) < 0.5 * float(np.mean(as_seen))
    assert float(np.mean(scaled)) < 0.7 * float(np.mean(as_seen))
    # The white itself comes out exactly; at least four of five patches are still the nearest to themselves.
    assert adapt_xyz(other_white, other_white, day_white) == pytest.approx(day_white, abs=1e-9)
    labs = lab_from_xyz(adapt_xyz(other, other_white, day_white), day_white)
    nearest = np.array([int(np.argmin(ciede2000(np.tile(lab, (24, 1)), wanted))) for lab in labs[:18]])
    assert (nearest == np.arange(18)).mean() >= 0.8


def test_bradford_agrees_with_colour_science() -> None:
    xyz = np.random.default_rng(3).uniform(0.05, 1.0, (20, 3))
    one, two = np.array([1.0985, 1.0, 0.3558]), D65
    theirs = colour.adaptation.chromatic_adaptation_VonKries(xyz, one, two, transform="Bradford")
    assert adapt_xyz(xyz, one, two) == pytest.approx(theirs, abs=1e-4)


@pytest.mark.parametrize(
    ("published", "light", "mean", "most"),
    [("ColorChecker 1976", "C", 0.59, 1.14), ("BabelColor Average", "D50", 0.82, 1.77)],
)
def test_the_chart_has_its_published_colours(published: str, light: str, mean: float, most: float) -> None:
    """From measured reflectances (ISO 17321-1) through a CIE illuminant and observer to L*a*b*, and CIEDE2000 by our code.

    Published: the chart's own values of 1976 under C, the average of 30 charts under D50; as colour-science carries them.
    """
    grid = np.arange(380, 731, 10)

    def at(one: object) -> np.ndarray:
        return np.interp(grid, one.wavelengths, one.values)  # type: ignore[attr-defined]

    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    seen = np.column_stack([np.interp(grid, observer.wavelengths, row) for row in observer.values.T])
    seen *= at(colour.SDS_ILLUMINANTS[light])[:, None]
    seen /= seen[:, 1].sum()
    chart = colour.CCS_COLOURCHECKERS[published]
    white = colour.xy_to_XYZ(chart.illuminant)
    apart = [
        float(ciede2000(lab_from_xyz(at(one) @ seen, seen.sum(axis=0)), lab_from_xyz(colour.xyY_to_XYZ(value), white)))
        for one, value in zip(colour.SDS_COLOURCHECKERS["ISO 17321-1"].values(), chart.data.values(), strict=True)
    ]
    assert np.mean(apart) == pytest.approx(mean, abs=0.01)
    assert max(apart) == pytest.approx(most, abs=0.03)
