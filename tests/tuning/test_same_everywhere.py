"""Threads, processes and the plain loop: the same margins and the same recommendation, to the last digit."""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

import pytest

from telemetry.reading.load import load_strategy
from telemetry.report.stress_json import stress_json
from telemetry.report.tune_json import tune_json
from telemetry.tuning.directions import asked_directions
from telemetry.tuning.evaluate import SettingsSweep
from telemetry.tuning.space import asked_axes
from telemetry.tuning.stress import stress
from telemetry.tuning.tune import tune
from tuning.made_runs import made


def answers(compiled: bool, cores: int) -> tuple[str, str]:
    """What stress and tune write of three runs."""
    runs, strategy = [made("practice", seed) for seed in range(3)], load_strategy("windows")
    judge = SettingsSweep(compiled=compiled, cores=cores)
    margins = stress(runs, strategy, directions=asked_directions("tint"), evaluator=judge, seeds=1)
    axes = asked_axes(strategy, ["vote.least=1..6", "windows.margin_mm=0..60:20"])
    return stress_json(margins), tune_json(tune(runs, strategy, axes=axes, copies=runs[:2], evaluator=judge))


@pytest.mark.timeout(240)
def test_threads_processes_and_the_plain_loop_say_the_same() -> None:
    expected = answers(compiled=True, cores=1)
    assert answers(compiled=True, cores=3) == expected
    assert answers(compiled=False, cores=1) == expected
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        assert pool.submit(answers, True, 2).result(timeout=200) == expected
