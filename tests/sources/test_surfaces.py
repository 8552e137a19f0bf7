"""The spectra in the package are the published ones, and no two of our colour names are one surface."""

from __future__ import annotations

import warnings
from itertools import combinations, permutations
from typing import Any

import numpy as np
import pytest
from physics.spectra import CAMERAS, DAY, HALL_LAMPS, NM, OWN_LAMPS, measured

from telemetry.course import parse_course
from telemetry.sample import SampleTable
from telemetry.sources.synthetic import simulate, simulate_still
from telemetry.sources.synthetic.levels import LEVELS
from telemetry.sources.synthetic.make_surfaces import CAMERA, DRIVEN, OF_CIE_224
from telemetry.sources.synthetic.surfaces import (
    _SPARE,
    FIELD,
    OWN_LAMP,
    PATCHES,
    TAUGHT,
    patch_of,
    responses,
    spectra,
    taught_responses,
)
from telemetry.stream.decoder import Decoder

SAME_WORD = {"gray": "grey"}


@pytest.fixture(scope="module")
def published() -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns that it has no plotting library
        import colour
    return colour


def in_bands(nm: Any, values: Any) -> Any:
    """Means of what is published, at every nm from 5 below to 5 above each of our wavelengths."""
    return np.array([np.interp(np.arange(centre - 5.0, centre + 6.0), nm, values).mean() for centre in spectra().nm])


def test_the_surfaces_driven_past_are_those_of_the_published_chart(published: Any) -> None:
    # The chart of Luo 2024, doi:10.1002/col.22940, as colour-science carries it.
    patches = list(published.SDS_COLOURCHECKERS["PMC"].values())
    assert len(patches) == 30
    for name, number in DRIVEN.items():
        one = patches[number - 1]
        np.testing.assert_allclose(spectra().surfaces[name], in_bands(one.wavelengths, one.values), atol=1e-4)


def test_surfaces_beyond_the_chart_are_those_of_the_cie() -> None:
    """CIE 224:2017, as the tests' spectral robot reads it from colour-science."""
    for name, number in OF_CIE_224.items():
        theirs = in_bands(NM, measured().surfaces["cie 224"][number - 1])
        np.testing.assert_allclose(spectra().surfaces[name], theirs, atol=1e-4)
    assert {*DRIVEN, *OF_CIE_224} == spectra().surfaces.keys()


def test_what_the_sensor_was_taught_is_the_chart_of_the_standard(published: Any) -> None:
    # ISO 17321-1 as colour-science carries it: another chart than the one that is driven past.
    chart = published.SDS_COLOURCHECKERS["ISO 17321-1"]
    assert {name.split(" (")[0] for name in chart} == spectra().taught.keys()
    for name, one in chart.items():
        np.testing.assert_allclose(spectra().taught[name.split(" (")[0]], in_bands(one.wavelengths, one.values), atol=1e-4)


def test_the_sensor_is_the_measured_camera(published: Any) -> None:
    # Darrodi et al. 2015, doi:10.1364/JOSAA.32.000381.
    camera = published.MSDS_CAMERA_SENSITIVITIES[CAMERA]
    for channel in range(3):
        theirs = in_bands(camera.wavelengths, camera.values[:, channel])
        np.testing.assert_allclose(spectra().sensor[:, channel], theirs / theirs.sum(), atol=2e-5)


@pytest.mark.parametrize("light", [OWN_LAMP, *LEVELS["venue"].physics.lights])
def test_lights_are_the_published_ones(published: Any, light: str) -> None:
    # CIE 015:2018; 'Incandescent' and 'Phosphor LED YAG' of Ohno and Davis 2008.
    one = {**published.SDS_LIGHT_SOURCES, **published.SDS_ILLUMINANTS}[light]
    theirs = in_bands(one.wavelengths, one.values)
    np.testing.assert_allclose(spectra().lights[light], theirs / theirs.mean(), atol=1e-3)


def test_the_tests_spectral_robot_shares_neither_camera_nor_lamp_nor_chart() -> None:
    ours = set(spectra().lights)
    assert CAMERA not in CAMERAS
    assert not ours & {*OWN_LAMPS, *HALL_LAMPS, *DAY}
    looks = np.array([spectra().surfaces[name] for name in DRIVEN])
    for chart in measured().surfaces.values():
        theirs = np.array([np.interp(spectra().nm, NM, one) for one in chart])
        assert np.abs(looks[:, None] - theirs[None]).max(axis=2).min() > 0.005


@pytest.mark.parametrize(("one", "other"), [pair for pair in combinations(PATCHES, 2) if FIELD not in pair])
def test_two_names_are_two_surfaces(one: str, other: str) -> None:
    if SAME_WORD.get(other, other) == SAME_WORD.get(one, one):
        return
    assert PATCHES[one] != PATCHES[other]
    looks = responses([PATCHES[one], PATCHES[other]])
    assert np.abs(looks[0] - looks[1]).max() > 0.01


def test_white_is_white_under_the_own_lamp_and_warm_under_a_filament() -> None:
    own = responses(["white"])[0]
    assert np.ptp(own) < 0.01
    warm = responses(["white"], "Incandescent")[0]
    assert warm[0] > warm[1] > warm[2]


def test_the_colours_of_orchard_row_are_what_their_names_say() -> None:
    """A camera's channels overlap, so colours are paler than their names; the order of the channels is what is asked."""
    red, green, blue = responses([PATCHES[name] for name in ("rust", "orange", "leaf", "sky", "white", "pink")]).T
    assert red[0] > 3 * green[0]  # rust
    assert red[1] > 1.5 * green[1] > 3 * blue[1]  # orange
    assert green[2] > red[2] > 2 * blue[2]  # leaf
    assert blue[3] > green[3] > red[3]  # sky
    assert min(red[4], green[4], blue[4]) > 0.8  # white
    assert red[5] > blue[5] > green[5]  # pink


def test_the_sensor_was_taught_nearly_but_not_quite_what_it_drives_past() -> None:
    names = tuple(name for name in TAUGHT if name != FIELD)
    known = taught_responses(names)
    seen = responses([PATCHES[FIELD], *(PATCHES[name] for name in names)])
    apart = np.abs(known - seen).max(axis=1)
    assert (apart > 0.0005).all()
    assert float(np.median(apart)) < 0.1
    # What the other chart has no patch for was taught with the surface itself.
    assert taught_responses(("cyan",))[1] == pytest.approx(responses([PATCHES["cyan"]])[0])


def test_unknown_colours_get_patches_of_their_own() -> None:
    assert not {*_SPARE} & {*PATCHES.values()}
    given = patch_of(["rust", "mauve", "teal", "Mauve"])
    assert given["rust"] == PATCHES["rust"]
    assert len({given["mauve"], given["teal"], given["rust"]}) == 3


def stream_table(data: bytes) -> SampleTable:
    table, decoder = SampleTable(), Decoder()
    for chunk in (*decoder.feed(data, 0), *decoder.finish()):
        table.append(chunk)
    return table


def test_a_name_without_a_patch_looks_the_same_in_every_run_of_its_course() -> None:
    """Whatever stands first: levels are those of the course's own order of colours."""
    course = parse_course(
        '[course]\nname = "x"\n[[group]]\nname = "g"\ndistinct = ["ochre", "mauve", "red", "puce"]\n'
        + "".join(f'[[slot]]\nname = "s{at}"\ngroup = "g"\nat_cm = {at}\nwidth_cm = 6\n' for at in (20, 40, 60))
    )
    looks: dict[str, list[float]] = {}
    for truth in permutations(course.colours, 3):
        table = stream_table(simulate("practice", 1, course=course, truth=truth, day=1).data)
        for at, colour in zip((20, 40, 60), truth, strict=True):
            over = np.abs(table.columns["dist"] - at) < 1.0
            red, blue = (float(np.median(table.columns[name][over])) for name in ("red", "blue"))
            looks.setdefault(colour, []).append(red / blue)
    for colour, ratios in looks.items():
        assert max(ratios) < 1.1 * min(ratios), colour
        standing = stream_table(simulate_still(colour, "practice", 5, day=1, among=course).data)
        still = float(np.median(standing.columns["red"]) / np.median(standing.columns["blue"]))
        assert still == pytest.approx(float(np.median(ratios)), rel=0.1), colour
