"""Margins from altered recordings, held against runs that were driven anew (simulated)."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path
from typing import ClassVar

import jsonschema
import numpy as np
import pytest
from physics.cases import robot

from telemetry.errors import StrategyError, UsageError
from telemetry.reading.load import load_strategy
from telemetry.report.stress_json import stress_json
from telemetry.report.stress_text import stress_lines
from telemetry.tuning.alter import Alterer
from telemetry.tuning.code_rule import _none_below, learn_rule, settled
from telemetry.tuning.crossing import crossing, monotone
from telemetry.tuning.directions import DIRECTIONS, asked_directions
from telemetry.tuning.evaluate import Outcomes, SettingsSweep
from telemetry.tuning.robot_model import fit_robot
from telemetry.tuning.signals import driving_speed, loop_ms, times_ms, values
from telemetry.tuning.stress import Stresser, stress
from telemetry.tuning.unseen import BAD, GOOD, LIKELY
from tuning.made_runs import made, physics_of
from tuning.margins_anew import curves, mean_margin
from tuning.worlds import CHANGED, WORLDS

SCHEMA = json.loads((Path(__file__).parents[2] / "telemetry/report/schemas/stress.json").read_text())
RUNS = [made("practice", seed) for seed in range(6)]


@pytest.fixture(scope="module")
def alterer() -> Alterer:
    return Alterer(fit_robot(RUNS, intervals=False), learn_rule(RUNS))


def test_shares_are_made_monotone_as_scipy_does() -> None:
    """Pooled adjacent violators: scipy's isotonic regression."""
    from scipy.optimize import isotonic_regression

    rng = np.random.default_rng(1)
    for _ in range(20):
        shares = rng.random(12)
        expected = isotonic_regression(shares, increasing=False).x
        np.testing.assert_allclose(monotone(shares), expected)


def test_where_the_share_falls_below() -> None:
    values_ = np.array([1.0, 2.0, 3.0, 4.0])
    assert crossing(values_, np.array([1.0, 1.0, 0.9, 0.5])) == pytest.approx(2.5)
    assert crossing(values_, np.array([1.0, 0.96, 0.97, 0.95])) is None
    assert crossing(values_, np.array([1.0, 0.9, 1.0, 0.5])) == pytest.approx(3.0)


def test_twice_as_fast_is_half_as_long_and_as_far(alterer: Alterer) -> None:
    run = RUNS[0]
    fast = alterer.speed(run, 2.0, np.random.default_rng(0))
    assert driving_speed(fast) == pytest.approx(2 * (driving_speed(run) or 0), rel=0.05)
    assert loop_ms(fast) == pytest.approx(loop_ms(run), rel=0.05)
    before, after = (values(one.table, "dist") for one in (run, fast))
    assert np.nanmax(after) == pytest.approx(np.nanmax(before), abs=0.5)
    # The note that begins the yard is at the same place of the way.
    for one, dist in ((run, before), (fast, after)):
        row = next(note.row for note in one.table.notes if note.text == "gate open")
        assert dist[row] == pytest.approx(before[next(n.row for n in run.table.notes if n.text == "gate open")], abs=0.5)
    assert (np.diff(times_ms(fast.table)) > 0).all()


@pytest.mark.parametrize("factor", [1.25, 1.6])
def test_higher_is_what_a_higher_robot_sends(alterer: Alterer, factor: float) -> None:
    """Levels of the altered run beside the same run driven with the sensor at that height."""
    world = physics_of("practice")
    for run, seed in zip(RUNS[:3], range(3), strict=True):
        anew = made("practice", seed, replace(world, height_mm=world.height_mm * factor)).table
        as_built = replace(alterer, unseen=replace(BAD, other_light=0.0))
        altered = as_built.height(run, factor, np.random.default_rng(0)).table
        for name in ("red", "green", "blue"):
            one, other = values(altered, name), values(anew, name)
            assert np.median(one) == pytest.approx(np.median(other), rel=0.08)
            assert np.percentile(one, 99) == pytest.approx(np.percentile(other, 99), rel=0.08)
            assert np.corrcoef(one, other)[0, 1] > 0.98


def test_every_direction_leaves_a_run_as_it_is_at_its_begin(alterer: Alterer) -> None:
    run = RUNS[1]
    for direction in DIRECTIONS:
        altered = direction.alter(alterer, run, direction.ladder[0], np.random.default_rng(0)).table
        assert abs(altered.rows - run.table.rows) <= run.table.rows * 0.05, direction.name
        assert np.nanmedian(values(altered, "red")) == pytest.approx(np.nanmedian(values(run.table, "red")), rel=0.05)


@pytest.mark.timeout(240)
@pytest.mark.parametrize(("place", "of", "within"), [
    ("practice", "light", 0.05), ("venue", "height", 0.05), ("venue", "light", 0.05), ("regulated lab", "speed", 0.15),
    ("regulated shop", "height", 0.15),
])  # fmt: skip
def test_margins_hold_when_driven_anew(place: str, of: str, within: float) -> None:
    """The mean margin of few runs, also on a robot that nothing was fitted to; margins_anew.py drives many."""
    world = replace(WORLDS[place], setups=range(3) if place.startswith("regulated") else range(1))
    values_, found = curves(world, of, 8 // len(world.setups), SettingsSweep(), ["map-and-list"], steps=10)
    predicted, anew = (mean_margin(values_, shares) for shares in found["map-and-list"])
    assert predicted == pytest.approx(anew, rel=within)


def test_where_none_begins_is_taken_from_recordings_that_show_it() -> None:
    """The built-in robot says none below 0.08 of white, 72 counts; at the venue its dark markers show that, at home not."""
    dim, bright = (learn_rule([made(level, seed) for seed in range(6)]) for level in ("venue", "practice"))
    assert dim is not None
    assert bright is not None
    assert dim.shows_dark
    assert dim.darkest == pytest.approx(72.0, rel=0.02)
    assert not bright.shows_dark
    assert bright.darkest > 80.0


DIMMED = CHANGED["light"](physics_of("practice"), 1.6)


def test_one_darker_run_shows_where_none_begins() -> None:
    """72 counts, as above: most of the samples of the darker run are of the field, and rightly none at any level."""
    rule = learn_rule([*RUNS, made("practice", 77, DIMMED)])
    assert rule is not None
    assert rule.shows_dark
    assert rule.darkest == pytest.approx(72.0, rel=0.03)


@pytest.mark.parametrize(("colours", "begins"), [
    ("cccccc nnnnnn", None), ("nnnnnnnn cccccc", 100.0 * math.sqrt(7 * 8)), ("nncnnnnnncnccccc", 100.0 * math.sqrt(8 * 9)),
    ("nnnn cccc", None), ("ncncncncncncnc", None), ("ncncncncncncnnnnn", None),
])  # fmt: skip
def test_where_none_begins(colours: str, begins: float | None) -> None:
    """From dark to bright, a sample at each hundred: c with a colour, n without."""
    letters = colours.replace(" ", "")
    found = _none_below(100.0 * np.arange(len(letters), dtype=float), np.array([one == "n" for one in letters]))
    assert found == (None if begins is None else pytest.approx(begins))


def test_a_margin_that_rests_on_what_is_assumed_says_so() -> None:
    """At home no sample shows where none begins: the margin of light does, at the venue it does not rest on it."""
    light = asked_directions("light")
    at_home = stress(RUNS, load_strategy("map-and-list"), directions=light, pairs=False)
    assert at_home.rests_on_dark == ("light",)
    text = " ".join(" ".join(stress_lines(at_home)).split())
    assert "Light: no recording here shows below which level your sensor says none" in text
    jsonschema.validate(json.loads(stress_json(at_home)), SCHEMA)
    shown = stress([*RUNS, made("practice", 77, DIMMED)], load_strategy("map-and-list"), directions=light, pairs=False)
    assert not shown.rests_on_dark
    assert "says none, so" not in " ".join(stress_lines(shown))


class _Turning(SettingsSweep):
    """A stand-in: one run right, one wrong; altered, the right one fails and the other is right, until both fail."""

    def outcomes(self, runs, strategies, progress=None):
        right = np.array([[self._right(run)] for run in runs])
        return Outcomes(np.ones_like(right), right, np.full(right.shape, 1000), (~right).astype(np.int64))

    def _right(self, run):
        higher = np.nanmedian(values(run.table, "red")) < 0.95 * np.nanmedian(values(self.of[run.name], "red"))
        much = np.nanmedian(values(run.table, "red")) < 0.75 * np.nanmedian(values(self.of[run.name], "red"))
        return (run.name == RUNS[0].name) != higher and not much

    of: ClassVar = {run.name: run.table for run in RUNS[:2]}


def test_luck_of_the_recorded_runs_is_no_loss() -> None:
    """As many right as before, though not the same ones, is no failure."""
    one = Stresser(RUNS[:2], load_strategy("windows"), evaluator=_Turning(compiled=False), seeds=1)
    found = one.margin(asked_directions("height")[0])
    assert found.recorded == 1.0
    assert found.right_up_to is not None
    assert found.right_up_to > 1.15, "only where both fail; the right one alone does at 1.03"
    assert found.first_failure == (RUNS[0].name, RUNS[0].course.slots[0].name)


@pytest.mark.timeout(240)
def test_what_no_recording_shows_widens_the_interval() -> None:
    one = Stresser(RUNS, load_strategy("map-and-list"))
    found = one.margin(asked_directions("light")[0])
    ends = [
        crossing(tried, shares.mean(axis=1)) for tried, shares, _ in
        (one.tried(asked_directions("light")[0], unseen, 1) for unseen in (BAD, LIKELY, GOOD))
    ]  # fmt: skip
    assert found.interval95 is not None
    assert found.right_up_to is not None
    assert None not in ends[:2]
    assert found.interval95[0] <= ends[0] < found.right_up_to < found.interval95[1]


@pytest.mark.timeout(240)
def test_a_sensor_that_waits_for_equal_measurements_is_known() -> None:
    """The self-regulating one of tests/physics, whose set-ups wait for one to three."""
    for setup in range(3):
        place = WORLDS["regulated lab"]
        rule = learn_rule(place.driven(setup, range(4)))
        assert rule is not None
        assert rule.waits == robot("regulated", setup, "lab").hold  # type: ignore[attr-defined]


def test_the_sensors_own_word_stays_where_nothing_changes() -> None:
    rule = learn_rule(RUNS)
    assert rule is not None
    assert rule.waits == 1
    codes = np.array([0, 0, 3, 0, 0, 5, 5, 5, 2, 2, 0])
    np.testing.assert_array_equal(settled(codes, 1), codes)
    np.testing.assert_array_equal(settled(codes, 2), [0, 0, 0, 0, 0, 0, 5, 5, 5, 2, 2])
    same = rule.recoded(RUNS[0].table, RUNS[0].table, LIKELY.dark)
    np.testing.assert_array_equal(same.columns["colour"], RUNS[0].table.columns["colour"])
    assert LIKELY.falls(1.0) == 1.0
    assert BAD.falls(3.0) == pytest.approx(1.0 / 9.0), "the inverse square law"
    known = GOOD.falling(1.5)  # captured at several heights
    assert math.log(known.falls(1.01)) / math.log(1.01) == pytest.approx(-1.5, abs=0.01)


@pytest.mark.timeout(240)
def test_what_is_written_and_said() -> None:
    found = stress(RUNS[:2], load_strategy("map-and-list"), directions=asked_directions("speed,height,tint"), seeds=1)
    document = json.loads(stress_json(found))
    jsonschema.validate(document, SCHEMA)
    height = next(one for one in document["stress"]["margins"] if one["of"] == "height")
    assert height["interval95"][0] <= height["right_up_to"] <= height["interval95"][1]
    assert height["first_failure"]["slot"] in {slot.name for slot in RUNS[0].course.slots}
    text = "\n".join(stress_lines(found))
    assert "Altered, not recorded" in text
    assert "simulated" in text
    assert "speed with height" in text
    again = stress(RUNS[:2], load_strategy("map-and-list"), directions=asked_directions("speed,height,tint"), seeds=1)
    assert stress_json(again) == stress_json(found)


def test_what_cannot_be_altered_is_said() -> None:
    codes = [made("practice", seed, codes_only=True) for seed in range(2)]
    found = stress(codes, load_strategy("hold"), directions=asked_directions("height,lost lines"))
    assert found.not_possible == (("height", "the recordings hold no raw channels"),)
    with pytest.raises(UsageError, match="height"):
        asked_directions("hight")
    wrong = replace(RUNS[0], truth=RUNS[1].truth)
    with pytest.raises(StrategyError, match="reads none of 1 runs right"):
        stress([wrong], load_strategy("hold"))
