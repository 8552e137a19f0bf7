"""End to end: published reflectances under published lights are driven past the sensor, and read right.

Surfaces: the 30-patch chart of Luo 2024; lights: CIE 015:2018 illuminants and a measured filament lamp; sensor: a camera
measured by NPL; all as colour-science carries them (test_surfaces.py holds the copies in the package against it). The way is
the product's own: stills make a palette, the robot's text goes through the decoder, named strategies are stepped by the
runner.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from telemetry.calibrate.build import build_palette
from telemetry.calibrate.capture import still_capture
from telemetry.course import Course, Truth, parse_course
from telemetry.palette import Palette
from telemetry.reading.strategies import STRATEGIES
from telemetry.replay.header import plan_for
from telemetry.replay.runner import Runner
from telemetry.replay.scoring.score import score
from telemetry.sample import SampleTable
from telemetry.sources.synthetic import LEVELS, Physics, SimulatedRun, simulate, simulate_still
from telemetry.sources.synthetic.surfaces import PATCHES, spectra
from telemetry.stream.decoder import Decoder

LIGHTS = LEVELS["venue"].physics.lights
SHARE = 0.25  # of ambient light at the most: a quarter of what the sensor's own lamp gives
BRIGHT_DAYS = (7, 11)  # on which more than 0.2 were drawn


def table_of(run: SimulatedRun) -> SampleTable:
    decoder, table = Decoder(), SampleTable()
    for chunk in decoder.feed(run.data, 0) + decoder.finish():
        table.append(chunk)
    assert not table.rejected
    return table


def lit(light: str, level: str = "practice") -> Physics:
    return replace(LEVELS[level].physics, lights=(light,), ambient_max=SHARE)


def calibrated(colours: tuple[str, ...], physics: Physics, day: int) -> Palette:
    stills = [
        still_capture(colour, table_of(simulate_still(colour, seed=number, day=day, physics=physics)))
        for number, colour in enumerate(("none", *colours))
    ]
    return build_palette(stills)


def read(run: SimulatedRun, course: Course, palette: Palette, strategy: str) -> tuple[bool, Truth]:
    table = table_of(run)
    runner = Runner(plan_for(STRATEGIES[strategy], course, palette, table))
    assert not runner.lacks(table)
    runner.advance(table)
    runner.finish()
    taken = tuple(reading.colour or "-" for reading in runner.taken.slots)
    return score(course, run.truth, runner.taken).correct, taken


@pytest.mark.parametrize("light", LIGHTS)
@pytest.mark.parametrize("strategy", ["windows", "map-and-list", "evidence"])
def test_orchard_row_is_read_from_raw_channels_under_every_light(light: str, strategy: str) -> None:
    physics = lit(light)
    for day in BRIGHT_DAYS:
        run = simulate("practice", day, day=day, physics=physics, raw_only=True)
        assert run.settings["light"] == light
        assert float(run.settings["ambient"]) > 0.2
        palette = calibrated(run.course.colours, physics, day)
        assert read(run, run.course, palette, strategy) == (True, run.truth)


CHART = ("rust", "orange", "leaf", "sky", "white", "pink", "lemon", "plum", "ink", "moss", "sand")


def chart_course() -> Course:
    slots = "".join(
        f'[[slot]]\nname = "{name}"\nat_cm = {12 + 9 * place}\nwidth_cm = 4\ngroup = "chart"\n'
        for place, name in enumerate(CHART)
    )
    colours = ", ".join(f'"{name}"' for name in CHART)
    return parse_course(f'[course]\nname = "chart"\n{slots}[[group]]\nname = "chart"\none_of_each = [{colours}]\n')


@pytest.mark.parametrize("light", LIGHTS)
def test_eleven_patches_of_the_chart_are_told_apart(light: str) -> None:
    assert {PATCHES[name] for name in CHART} <= spectra().surfaces.keys()
    course, physics = chart_course(), lit(light)
    run = simulate("practice", 3, day=7, course=course, physics=physics, raw_only=True)
    palette = calibrated(CHART, physics, 7)
    assert read(run, course, palette, "windows") == (True, run.truth)


def test_a_palette_of_another_light_reads_worse() -> None:
    """The lights matter: what is calibrated under one is not good under all others, so the test above can fail."""
    right = {"same": 0, "other": 0}
    for seed in range(8):
        course = chart_course()
        warm, cold = lit("Incandescent"), lit("ID65")
        run = simulate("practice", seed, day=seed, course=course, physics=replace(warm, ambient_max=1.0), raw_only=True)
        for name, physics in (("same", replace(warm, ambient_max=1.0)), ("other", replace(cold, ambient_max=1.0))):
            right[name] += read(run, course, calibrated(CHART, physics, seed), "windows")[0]
    assert right["same"] > right["other"]
