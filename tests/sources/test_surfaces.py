"""The spectra in the package are the published ones."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from physics.spectra import NM, measured

from telemetry.sources.synthetic.surfaces import PATCHES, patch_of, responses, spectra


@pytest.fixture(scope="module")
def published() -> object:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    return colour


def test_reflectances_are_those_of_the_standard(published: object) -> None:
    # ISO 17321-1 reflectances as colour-science carries them, in steps of 5 or 10 nm; ours are means over 10 nm.
    sets = published.SDS_COLOURCHECKERS["ISO 17321-1"]  # type: ignore[attr-defined]
    ours = spectra().surfaces
    assert len(sets) == 24
    assert {name.split(" (")[0] for name in sets} < set(ours)
    for name, distribution in sets.items():
        mine = ours[name.split(" (")[0]]
        there = np.interp(spectra().nm, distribution.wavelengths, distribution.values)
        np.testing.assert_allclose(mine, there, atol=0.012)


def test_surfaces_beyond_the_chart_are_those_of_the_cie() -> None:
    """CIE 13.3-1995 and CIE 224:2017, as the tests' spectral robot reads them from colour-science."""
    theirs = measured().surfaces
    for name, spectrum in (
        ("strong green", theirs["cie 13.3"][10]), ("red 11", theirs["cie 224"][10]), ("cyan 57", theirs["cie 224"][56]),
        ("magenta 94", theirs["cie 224"][93]),
    ):  # fmt: skip
        np.testing.assert_allclose(spectra().surfaces[name], np.interp(spectra().nm, NM, spectrum), atol=0.012)


@pytest.mark.parametrize(("one", "other"), [("red", "rust"), ("green", "leaf"), ("cyan", "sky"), ("magenta", "pink")])
def test_two_names_are_two_surfaces(one: str, other: str) -> None:
    assert PATCHES[one] != PATCHES[other]
    looks = responses([PATCHES[one], PATCHES[other]])
    assert np.abs(looks[0] - looks[1]).max() > 0.03


@pytest.mark.parametrize("light", ["A", "D65", "FL2", "FL7", "FL11", "LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5"])
def test_lights_are_those_of_the_standard(published: object, light: str) -> None:
    # CIE 015:2018 illuminants as colour-science carries them: the sum over the range, band by band.
    distribution = published.SDS_ILLUMINANTS[light]  # type: ignore[attr-defined]
    fine = np.arange(395, 706)
    values = np.interp(fine, distribution.wavelengths, distribution.values)
    bands = np.array([values[(fine >= nm - 5) & (fine <= nm + 5)].mean() for nm in spectra().nm])
    np.testing.assert_allclose(spectra().lights[light], bands / bands.mean(), atol=1e-3)


def test_white_is_white_under_the_own_lamp_and_warm_under_a_filament() -> None:
    own = responses(["white 9.5"])[0]
    assert np.ptp(own) < 0.01
    warm = responses(["white 9.5"], "A")[0]
    assert warm[0] > warm[1] > warm[2]


def test_the_colours_of_orchard_row_are_what_their_names_say() -> None:
    red, green, blue = responses([PATCHES[name] for name in ("rust", "orange", "leaf", "sky", "white", "pink")]).T
    assert red[0] > 3 * green[0]  # rust
    assert red[1] > 1.5 * green[1] > 3 * blue[1]  # orange
    assert green[2] > red[2] and green[2] > blue[2]  # leaf  # noqa: PT018
    assert blue[3] > green[3] > red[3]  # sky
    assert min(red[4], green[4], blue[4]) > 0.8  # white
    assert red[5] > blue[5] > green[5]  # pink


def test_unknown_colours_get_patches_of_their_own() -> None:
    given = patch_of(["rust", "mauve", "teal", "Mauve"])
    assert given["rust"] == PATCHES["rust"]
    assert len({given["mauve"], given["teal"], given["rust"]}) == 3
