"""1,000 recordings of about 1,500 samples through 10 strategies, from the command line, files included.

The figures are printed; a machine that others use too must not fail for them."""

import resource
import shutil
import subprocess
import sys
import time
from dataclasses import replace

import pytest

from bench.bench_start import warm
from telemetry.recording.journal.records import Record, RecordKind
from telemetry.recording.load import load
from telemetry.recording.make import write_recording
from telemetry.recording.meta import Meta
from telemetry.sources.synthetic.levels import LEVELS
from telemetry.sources.synthetic.run import simulate

RUNS, DIFFERENT = 1000, 50
STRATEGIES = (
    "first-come", "hold", "run-on", "smooth", "checklist", "windows", "map-and-list", "always-answer",
    "hold:hold.samples=2", "checklist:hold.samples=3",
)  # fmt: skip


@pytest.mark.bench
@pytest.mark.timeout(300)
def test_a_thousand_runs_through_ten_strategies(tmp_path):
    slow = replace(LEVELS["venue"].physics, speed_cm_s=7.4)
    rows = 0
    for i in range(DIFFERENT):
        run = simulate("venue", i, physics=slow)
        meta = Meta(name=f"run {i}", course=run.course.text, truth=run.truth, simulated=True)
        records = [Record(RecordKind.META, 0, meta.to_json().encode()), Record(RecordKind.BYTES, 10**18, run.data)]
        path = tmp_path / f"r{i:04}.h5"
        write_recording(iter(records), path, most_bytes=len(run.data))  # as a capture and ingest write it
        rows += load(path).table.rows
        for k in range(1, RUNS // DIFFERENT):
            shutil.copy(path, tmp_path / f"r{k * DIFFERENT + i:04}.h5")
    kept = warm(str(tmp_path / "compiled"))
    named = [word for name in STRATEGIES for word in ("--strategy", name)]
    command = [sys.executable, "-m", "telemetry.cli", "compare", str(tmp_path), *named]
    print(f"\n{RUNS} runs x {rows / DIFFERENT:.0f} samples x {len(STRATEGIES)} strategies, files included; simulated runs")
    for what, more in (
        ("the first time, machine code made where it is not", []), ("the page", []),
        ("all as JSON, with every reason", ["--json", str(tmp_path / "out.json")]),
    ):  # fmt: skip
        begun, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
        done = subprocess.run([*command, *more], capture_output=True, text=True, timeout=250, check=True, env=kept)
        took, after = time.perf_counter() - begun, resource.getrusage(resource.RUSAGE_CHILDREN)
        cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        steps = rows / DIFFERENT * RUNS * len(STRATEGIES)
        print(f"{what}: {took:.1f} s, {cpu:.1f} s of processor time; {steps / took / 1e6:.1f} million sample steps/s")
        assert done.stdout.startswith(f"{RUNS} simulated runs of Orchard Row")


@pytest.mark.bench
@pytest.mark.timeout(300)
def test_machine_code_beside_the_written_out_loop(monkeypatch):
    """The same judging with reasons, in this process: machine code must be worth having, explanations included."""
    from functools import partial

    from telemetry.calibrate.files import table_from_text
    from telemetry.reading.load import load_strategy
    from telemetry.reading.plan import make_plan
    from telemetry.reading.switch import Switch
    from telemetry.replay import header
    from telemetry.replay.case import Ask, Case
    from telemetry.replay.header import PlanShelf
    from telemetry.replay.judge import judge

    slow = replace(LEVELS["venue"].physics, speed_cm_s=7.4)
    made = [simulate("venue", seed, physics=slow) for seed in range(8)]
    cases = [Case(f"run {k}", table_from_text(one.data, "run"), one.course, one.truth) for k, one in enumerate(made)]
    strategies = {name: load_strategy(name) for name in ("hold", "checklist", "windows", "map-and-list")}

    def best_s(switch: Switch) -> float:
        monkeypatch.setattr(header, "make_plan", partial(make_plan, switch=switch))
        shelf, times = PlanShelf(), []
        for _ in range(4):
            begun = time.process_time()
            for case in cases:
                judge(case, strategies, Ask(why=True), shelf=shelf)
            times.append(time.process_time() - begun)
        return min(times[1:])

    fast, plain = best_s(Switch(made_at=0, make_at=0)), best_s(Switch(after=0, made_at=1 << 60))
    print(f"\nmachine code {fast * 1000:.0f} ms, written out {plain * 1000:.0f} ms, {plain / fast:.1f} times")
    assert plain > 1.5 * fast


@pytest.mark.bench
def test_help_is_there_at_once(tmp_path):
    """Beside what importing numpy alone takes: help must not import it, nor anything like it."""

    kept = warm(str(tmp_path))

    def median_s(*words: str) -> float:
        times = []
        for _ in range(5):
            begun = time.perf_counter()
            subprocess.run([sys.executable, *words], capture_output=True, check=True, timeout=60, env=kept)
            times.append(time.perf_counter() - begun)
        return sorted(times)[2]

    helped, numpy = median_s("-m", "telemetry.cli", "--help"), median_s("-c", "import numpy")
    print(f"\nsidelong --help: {helped * 1000:.0f} ms, importing numpy: {numpy * 1000:.0f} ms (medians of 5)")
    assert helped < numpy
