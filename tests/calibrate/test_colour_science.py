"""Our small colour science against published values and against colour-science."""

from __future__ import annotations

import csv
import warnings
from pathlib import Path

import numpy as np
import pytest

from telemetry.calibrate.colour_science import (
    D65,
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
