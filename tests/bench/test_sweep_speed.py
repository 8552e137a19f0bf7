"""Many settings over many runs: sample steps a second of the compiled sweep, beside the plain loop over the same classes.

The large one: ``python tests/bench/test_sweep_speed.py FOLDER`` writes 1,000 simulated recordings of about 1,500 samples
into FOLDER (once) and sweeps 1,000 settings over them, files included.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from telemetry.palette_default import default_palette
from telemetry.reading.load import load_strategy
from telemetry.reading.plan import make_plan
from telemetry.reading.strategy import Strategy
from telemetry.reading.sweep import Sweep
from telemetry.sources.synthetic.levels import LEVELS
from telemetry.tuning.evaluate import SettingsSweep, steps_of
from telemetry.tuning.runs import saved_runs

SLOW = replace(LEVELS["venue"].physics, speed_cm_s=7.4)
"""So slow that a run has about 1,500 samples."""
SWEEP_OVER_OBJECTS = 50


def _settings(count: int) -> list[Strategy]:
    return [load_strategy(f"hold:hold.samples={1 + k % 25},once.gap={1 + k // 25}") for k in range(count)]


@pytest.mark.bench
@pytest.mark.timeout(240)
def test_a_sweep_beside_the_plain_loop() -> None:
    from tuning.made_runs import made

    runs = [made("venue", seed, SLOW) for seed in range(4)]
    strategies = _settings(50)
    plans = [make_plan(one, runs[0].course, default_palette(), runs[0].table.columns) for one in strategies]
    steps = [steps_of(run, plans[0]) for run in runs]
    sweep = Sweep(plans[0])
    samples, (_, settings) = sweep.samples(steps), sweep.starts(plans)[0]
    sweep.over(samples, settings)
    fast = objects = np.inf
    for _ in range(5):
        begun = time.perf_counter()
        sweep.over(samples, settings)
        fast = min(fast, (time.perf_counter() - begun) / (samples.first[-1] * len(plans)))
        plans[0].reset()
        begun = time.perf_counter()
        plans[0].chains[0].run(steps[0].wholes[0], steps[0].notes, 0, steps[0].rows)
        objects = min(objects, (time.perf_counter() - begun) / steps[0].rows)
    print(f"\nhold, one core: sweep {1e-6 / fast:.0f} million sample steps/s, objects {1e-6 / objects:.2f}; simulated runs")
    assert objects / fast >= SWEEP_OVER_OBJECTS


@pytest.mark.bench
@pytest.mark.timeout(240)
def test_time_is_linear_in_runs_and_settings() -> None:
    """Four times as many runs, or settings, must not take more than six times as long (processor time, best of three)."""
    from tuning.made_runs import made

    runs = [made("venue", seed, SLOW) for seed in range(6)] * 2
    strategies = _settings(240)
    sweep = SettingsSweep(cores=1)
    sweep.outcomes(runs[:1], strategies[:2])

    def took(some: int, of: int) -> float:
        best = np.inf
        for _ in range(3):
            begun = time.process_time()
            sweep.outcomes(runs[:some], strategies[:of])
            best = min(best, time.process_time() - begun)
        return best

    few_runs, few_settings, both = took(3, 240), took(12, 60), took(12, 240)
    print(f"\nsweep: 4 x the runs {both / few_runs:.1f} x as long, 4 x the settings {both / few_settings:.1f} x")
    assert both < 6 * few_runs
    assert both < 6 * few_settings


def _large(folder: Path, count: int = 1000, different: int = 50) -> None:
    import shutil

    from telemetry.recording.journal.records import Record, RecordKind
    from telemetry.recording.make import write_recording
    from telemetry.recording.meta import Meta
    from telemetry.sources.synthetic.run import simulate

    folder.mkdir(parents=True, exist_ok=True)
    for i in range(different if not (folder / f"r{count - 1:04}.h5").exists() else 0):
        run = simulate("venue", i, physics=SLOW)
        meta = Meta(name=f"run {i}", course=run.course.text, truth=run.truth, simulated=True)
        records = [Record(RecordKind.META, 0, meta.to_json().encode()), Record(RecordKind.BYTES, 10**18, run.data)]
        write_recording(iter(records), folder / f"r{i:04}.h5", most_bytes=len(run.data))
        for k in range(1, count // different):
            shutil.copy(folder / f"r{i:04}.h5", folder / f"r{k * different + i:04}.h5")
    for name in ("hold:hold.samples={},once.gap={}", "windows:windows.margin_mm={},vote.least={}"):
        strategies = [load_strategy(name.format(1 + k % 50, 1 + k // 50)) for k in range(1000)]
        evaluator = SettingsSweep()
        first = saved_runs([folder / "r0000.h5"]).runs
        evaluator.outcomes(first, strategies[:2])  # compiled, or read from the cache
        begun, cpu = time.perf_counter(), time.process_time()
        runs = saved_runs(sorted(folder.glob("*.h5"))).runs
        loaded = time.process_time() - cpu
        outcomes = evaluator.outcomes(runs, strategies)
        took, cpu = time.perf_counter() - begun, time.process_time() - cpu
        steps = sum(run.table.rows for run in runs) * len(strategies)
        print(
            f"{name.partition(':')[0]}: {len(strategies)} settings x {len(runs)} runs x {runs[0].table.rows} samples on "
            f"{evaluator.cores} cores: {took:.1f} s by the clock, {cpu:.1f} s of processor time ({loaded:.1f} reading); "
            f"{steps / took / 1e6:.0f} million sample steps/s by the clock; {outcomes.right.mean():.0%} right; simulated"
        )


if __name__ == "__main__":
    _large(Path(sys.argv[1]))
