"""A robot that stops at every marker is read standing; one that drives past them is not judged."""

from __future__ import annotations

import pytest

from telemetry.palette_default import default_palette
from telemetry.reading.load import load_strategy
from telemetry.reading.needs import run_has
from telemetry.replay.header import plan_for
from telemetry.replay.runner import Runner
from telemetry.report.comparison_json import reading_json
from telemetry.sample import SampleTable
from telemetry.sources.synthetic import simulate
from telemetry.stream.decoder import Decoder

from .made import Made, course, plan_of

SEEDS = (1, 2, 3, 4)


def _driven(level: str, seed: int, stop_ms: float) -> tuple[Runner, SampleTable, list[str]]:
    run = simulate(level, seed, stop_ms=stop_ms)
    decoder, table = Decoder(), SampleTable()
    for chunk in decoder.feed(run.data, 0) + decoder.finish():
        table.append(chunk)
    plan = plan_for(load_strategy("stand-and-look"), run.course, default_palette(table.ranges), table)
    return Runner(plan), table, list(run.truth)


@pytest.mark.parametrize("seed", SEEDS)
def test_every_marker_is_read_where_the_robot_stops_at_each(seed: int) -> None:
    runner, table, truth = _driven("practice", seed, 500)
    assert not runner.plan.lacks(run_has(table))
    runner.advance(table)
    runner.finish()
    assert [reading.colour for reading in runner.readings] == truth


@pytest.mark.parametrize("seed", SEEDS)
def test_a_run_that_never_stops_at_markers_is_not_judged(seed: int) -> None:
    runner, table, _truth = _driven("venue", seed, 0)
    assert runner.plan.lacks(run_has(table))


ONE = '[[slot]]\nname = "a"\nat_cm = 5.0\ncolours = ["rust", "leaf"]\n'
TWO_TAGS = ONE + '[[slot]]\nname = "b"\nat_cm = 15.0\ncolours = ["rust", "leaf"]\n'


def _stops(made: Made) -> int:
    return sum(word.startswith("stop:") for word in run_has(made.table))


def _turning(made: Made, pause: int) -> Made:
    """A turn on the spot of 90 degrees, with a pause before and behind."""
    made.none(pause, step_mm=0.0)
    for _ in range(30):
        made.heading += 3.0
        made.none(1, step_mm=0.0)
    return made.none(pause, step_mm=0.0)


@pytest.mark.parametrize("pause", [0, 10, 40])
@pytest.mark.parametrize("on", [ONE, TWO_TAGS])
def test_standing_at_start_turn_and_end_is_no_stop_at_a_marker(pause: int, on: str) -> None:
    made = Made().none(60, step_mm=0.0).to(40).to(60, "rust").to(100)
    made = _turning(made, pause).to(145).to(155, "leaf").to(200)
    made = _turning(made, pause).to(250).none(60, step_mm=0.0)
    lacking = plan_of(made, course(on), "code", "settle ms=100", "once").lacks(run_has(made.table))
    assert "needs a stop at each of" in lacking
    assert "the robot never stood still on this run" in lacking


def test_a_robot_that_never_stops_is_not_judged_however_coarse_its_distance() -> None:
    made = Made(step_mm=0.4)  # 4 cm/s, told in whole cm: each stands for 0.25 s
    made.none(25).see("rust", 50).none(400)
    for row in made.rows:
        row["dist"] = float(int(row["dist"]))
    assert _stops(made) == 0
    assert plan_of(made, course(ONE), "code", "settle ms=100", "once").lacks(run_has(made.table))


def test_stops_at_the_markers_are_counted_from_distance_or_speed() -> None:
    made = Made()
    for colour in ("rust", "leaf"):
        made.none(40).see(colour, 10).see(colour, 50, step_mm=0.0)
    made = made.none(20)
    assert _stops(made) == 2
    assert not plan_of(made, course(TWO_TAGS), "code", "settle ms=100", "once").lacks(run_has(made.table))
    for row, behind in zip(made.rows, [*made.rows[1:], made.rows[-1]], strict=True):
        row["speed"] = (behind["dist"] - row["dist"]) * 100
    for row in made.rows:
        del row["dist"]
    assert _stops(made) == 2


def test_drift_while_standing_is_no_turn() -> None:
    made = Made().none(40)
    for _ in range(100):
        made.heading += 0.05
        made.see("rust", 1, step_mm=0.0)
    assert _stops(made.none(40)) == 1


def test_readings_tell_where_a_robot_that_stops_would_stand_live_as_in_replay() -> None:
    run = simulate("practice", 1, stop_ms=500)
    strategy = load_strategy("stop-at-colour")
    told = []
    for cut in (len(run.data), 700):
        decoder, table = Decoder(), SampleTable()
        pieces = [run.data[start : start + cut] for start in range(0, len(run.data), cut)]
        runner = None
        for piece in pieces:
            for chunk in decoder.feed(piece, 0):
                table.append(chunk)
            if table.rows and runner is None:
                runner = Runner(plan_for(strategy, run.course, default_palette(table.ranges), table))
            if runner is not None:
                runner.advance(table)
        assert runner is not None
        runner.finish()
        told.append(runner.readings)
    assert told[0] == told[1]
    read = [reading for reading in told[0] if reading.how == "read"]
    assert len(read) >= 6
    for reading in read:
        assert reading.stop_cm is not None
        assert reading.dist_cm is not None
        # This robot stops at the middle of each marker; one that stops at a colour would stand within it too, or close by.
        assert abs(reading.stop_cm - reading.dist_cm) < 2.5
        assert reading_json("a", reading)["stop_cm"] == round(reading.stop_cm, 2)
    assert "stop_cm" not in reading_json("a", next(one for one in told[0] if one.how == "inferred"))


def test_a_run_of_next_to_nothing_has_no_stop() -> None:
    assert not [word for word in run_has(SampleTable()) if word.startswith("stop:")]
    for rows in range(1, 6):
        assert _stops(Made().none(rows)) == 0
    bare = Made().none(9)
    for row in bare.rows:
        del row["dist"]
    assert _stops(bare) == 0
