"""The tests' own kinds of physics are what they say: repeatable, measured where they say so, and unlike each other."""

from __future__ import annotations

import numpy as np
import pytest

from .cases import GENERATORS, cases, only, palette_of, robot, there
from .reading import read
from .spectra import CAMERAS, Eye, apart, measured
from .spliced import ABSENT, readings

KINDS = [(name, level) for name, made in GENERATORS.items() for level in made.levels]


@pytest.mark.parametrize(("generator", "level"), KINDS)
def test_every_kind_gives_the_same_run_again_and_another_for_another_seed(generator: str, level: str) -> None:
    if not there(generator):
        pytest.skip(ABSENT)
    made = robot(generator, 3, level)
    (table, truth), (again, same), (other, _) = made.drive(1), made.drive(1), made.drive(2)
    assert truth == same
    assert len(truth) == len(made.course.slots)
    for name, column in table.columns.items():
        np.testing.assert_array_equal(column, again.columns[name])
        assert len(column) == table.rows
    assert not np.array_equal(table.columns["red"][:50], other.columns["red"][:50])
    assert (np.diff(np.asarray(table.columns["t_us"], dtype=np.int64)) > 0).all()
    assert only(table, "codes").columns.keys() & {"red", "refl"} == set()
    palette = palette_of(generator, 3, level, False)
    assert set(made.course.colours) | {"none"} == set(palette.names)


@pytest.mark.parametrize(("generator", "level"), [("spectral", "lab"), ("regulated", "lab"), ("spliced", "steady field")])
def test_an_easy_run_is_read_by_a_simple_strategy(generator: str, level: str) -> None:
    """Else a level said nothing about strategies, only about itself."""
    if not there(generator):
        pytest.skip(ABSENT)
    cell = read(cases(generator, level, setups=range(6), runs=3, stream="raw"), names=("windows", "map-and-list"))
    assert max(cell.right.values()) >= 0.75 * cell.runs


def test_the_surfaces_are_the_published_ones() -> None:
    # White under the sensor's own lamp is 1 in every channel; under another light it is 1 on the average.
    white = np.ones(81)
    eye = Eye(CAMERAS[0], "LED-B3")
    np.testing.assert_allclose(eye.sees(white), 1.0)
    assert eye.sees(white, "A").mean() == pytest.approx(1.0, abs=0.15)
    assert eye.sees(white, "A")[0] > eye.sees(white, "D65")[0]
    # ISO 17321-1: the chart's white reflects about 0.9, its black about 0.03; CIE 13.3's TCS09 is a strong red.
    chart = measured().surfaces["chart"]
    assert 0.85 < chart[18][20:60].mean() < 0.95
    assert chart[23][20:60].mean() < 0.05
    red = eye.sees(measured().surfaces["cie 13.3"][8])
    assert red[0] > 1.4 * max(red[1], red[2])  # this camera's channels overlap much
    assert [len(rows) for rows in measured().surfaces.values()] == [24, 14, 99]


def test_twins_differ_in_lightness_only() -> None:
    made = robot("spectral", 4, "twins")
    looks = np.array([made.eye.sees(surface) for surface in made.surface.values()])  # type: ignore[attr-defined]
    np.testing.assert_allclose(looks[1], 2.0 * looks[2])
    assert apart(looks)[1, 2] < 0.12


def test_real_readings_of_palettes_and_runs_are_not_the_same() -> None:
    if not there("spliced"):
        pytest.skip(ABSENT)
    assert {len(rows) for rows in readings().values()} == {831, 985, 538, 598, 725, 849, 442}
    made = robot("spliced", 1, "poses")
    held, driven = (np.vstack(made._half("red", runs)) for runs in (False, True))  # type: ignore[attr-defined]
    assert len(held) + len(driven) == 720
