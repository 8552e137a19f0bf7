"""A robot that stops at every marker is read standing; one that drives past them is not judged."""

from __future__ import annotations

import pytest

from telemetry.palette_default import default_palette
from telemetry.reading.load import load_strategy
from telemetry.reading.needs import run_has
from telemetry.replay.header import plan_for
from telemetry.replay.runner import Runner
from telemetry.sample import Table
from telemetry.sources.synthetic import simulate
from telemetry.stream.decoder import Decoder

SEEDS = (1, 2, 3, 4)


def _driven(level: str, seed: int, stop_ms: float) -> tuple[Runner, Table, list[str]]:
    run = simulate(level, seed, stop_ms=stop_ms)
    decoder, table = Decoder(), Table()
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
