"""A sweep says of every run and setting what one replay of it says: compiled, plain, and on any number of threads."""

from __future__ import annotations

import subprocess
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import pytest

from telemetry.reading import compiled, made_apart
from telemetry.reading.load import load_strategy
from telemetry.replay.case import READINGS_ONLY, Case
from telemetry.replay.judge import judge
from telemetry.replay.scoring.score import Outcome
from telemetry.tuning.evaluate import Outcomes, SettingsSweep, outcomes_on
from telemetry.tuning.runs import SavedRun
from tuning.made_runs import made

RUNS = [
    *(made("venue", seed) for seed in range(3)), *(made("extreme", seed) for seed in range(3)),
    made("venue", 4, two_sensors=True), made("venue", 5, reversing=True), made("practice", 6, raw_only=True),
]  # fmt: skip


def _same(one: Outcomes, other: Outcomes) -> None:
    for name in ("counts", "right", "decided_ms", "open_slots"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name), err_msg=name)


def _judged(run: SavedRun, spec: str) -> tuple[bool, bool, int, int]:
    """The same from the replay of one run, as ``compare`` makes it."""
    case = Case(run.name, run.table, run.course, run.truth, run.palette)
    results, _ = judge(case, {"it": load_strategy(spec)}, READINGS_ONLY)
    one = results[0]
    wrong = 0 if one.score is None else sum(1 << k for k, slot in enumerate(one.score.slots) if slot != "right")
    decided = -1 if one.decided_ms is None else one.decided_ms
    return one.outcome in {Outcome.RIGHT, Outcome.WRONG}, one.outcome is Outcome.RIGHT, decided, wrong


@pytest.mark.timeout(240)
@pytest.mark.parametrize(
    ("name", "setting", "values"),
    [("hold", "hold.samples", (1, 2, 4, 7)), ("map-and-list", "windows.margin_mm", (5, 20, 60))],
)
def test_every_way_says_the_same(name: str, setting: str, values: tuple[int, ...]) -> None:
    specs = [f"{name}:{setting}={value}" for value in values]
    strategies = [load_strategy(spec) for spec in specs]
    fast = SettingsSweep(compiled=True, cores=1).outcomes(RUNS, strategies)
    _same(fast, SettingsSweep(compiled=True, cores=3).outcomes(RUNS, strategies))
    _same(fast, SettingsSweep(compiled=False).outcomes(RUNS, strategies))
    for r, run in enumerate(RUNS):
        for s, spec in enumerate(specs):
            found = (fast.counts[r, s], fast.right[r, s], fast.decided_ms[r, s], fast.open_slots[r, s])
            assert found == _judged(run, spec), (run.name, spec)
    assert 0 < fast.right.sum() < fast.right.size


@pytest.mark.timeout(240)
@pytest.mark.parametrize("kind", ["threads", "processes"])
def test_any_executor_gives_the_same_sweep(kind: str) -> None:
    strategies = [load_strategy(f"hold:hold.samples={samples}") for samples in (1, 3, 5)]
    here = SettingsSweep().outcomes(RUNS, strategies)
    assert here.right.any()
    assert not here.right[here.counts].all()
    with ThreadPoolExecutor(2) if kind == "threads" else ProcessPoolExecutor(2, get_context("spawn")) as executor:
        _same(outcomes_on(executor, RUNS, strategies), here)
        _same(outcomes_on(executor, RUNS[:1], strategies, parts=5), SettingsSweep().outcomes(RUNS[:1], strategies))


def test_a_robot_that_would_stop_says_nothing() -> None:
    runs = [made("venue", 1), made("practice", 2, stop_ms=600.0)]
    stopping = SettingsSweep(compiled=False).outcomes(runs, [load_strategy("stop-at-colour")])
    assert stopping.counts[:, 0].tolist() == [False, True]
    lacking = SettingsSweep(compiled=False).outcomes(runs, [load_strategy("stand-and-look")])
    assert lacking.counts[:, 0].tolist() == [False, True]


def test_a_teams_own_logic_that_cannot_be_compiled_is_judged_all_the_same(tmp_path: Path) -> None:
    own = tmp_path / "ours.py"
    own.write_text(
        "class Ours:\n    'Takes what was seen twice.'\n    def __init__(self):\n        self.last = self.seen = 0\n"
        "    def step(self, label, m):\n        self.seen = self.seen + 1 if label == self.last else 1\n"
        "        self.last = label\n        return label if self.seen == 2 else -1\n"
    )
    strategy = load_strategy(str(own))
    _same(*(SettingsSweep(compiled=compiled).outcomes(RUNS[:2], [strategy]) for compiled in (True, False)))


@pytest.mark.timeout(240)
def test_code_is_made_by_another_process_which_a_cancelled_search_ends(tmp_path, monkeypatch) -> None:
    """The compiler holds the interpreter of whoever runs it for seconds; nothing would answer Ctrl-C meanwhile."""
    monkeypatch.setenv("SIDELONG_CACHE", str(tmp_path))
    monkeypatch.setattr(compiled, "_functions", {})
    told: list[int] = []

    def stop(done: int) -> None:
        told.append(done)
        if len(told) > 2:
            raise KeyboardInterrupt

    strategies = [load_strategy("hold:hold.samples=2")]
    begun = _processes_begun(monkeypatch)
    with pytest.raises(KeyboardInterrupt):
        SettingsSweep(compiled=True, cores=1).outcomes(RUNS[:1], strategies, stop)
    assert [one.poll() is None for one in begun] == [False], "one was begun, and it is over"
    kept = tmp_path / "compiled" / "__pycache__"
    assert not list(kept.glob("*.nbi")), "it was ended before it had made anything"
    found = SettingsSweep(compiled=True, cores=1).outcomes(RUNS[:1], strategies)
    assert list(kept.glob("*.nbi"))
    assert len(begun) == 2
    _same(found, SettingsSweep(compiled=False).outcomes(RUNS[:1], strategies))


def _processes_begun(monkeypatch) -> list[subprocess.Popen[bytes]]:
    begun: list[subprocess.Popen[bytes]] = []

    class Noted(subprocess.Popen):  # type: ignore[type-arg]
        def __init__(self, *args, **more) -> None:
            super().__init__(*args, **more)
            begun.append(self)

    monkeypatch.setattr(made_apart.subprocess, "Popen", Noted)
    return begun
