"""How far the runs shown are from failing, and which settings read them, in a job that can be cancelled at any step."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from gui.words import tr
from telemetry.reading.load import load_strategy
from telemetry.tuning.copies import altered_copies
from telemetry.tuning.evaluate import Outcomes, SettingsSweep
from telemetry.tuning.runs import SavedRun, saved_runs
from telemetry.tuning.stress import Stress, stress
from telemetry.tuning.tune import Tuning, tune

if TYPE_CHECKING:
    from gui.model.jobs import Job
    from telemetry.reading.strategy import Strategy

TOLD_EVERY_S = 0.05
T = TypeVar("T")


class _CancelledError(Exception):
    """Not told: whoever cancels knows."""


class _Watched(SettingsSweep):
    """Ends soon after the job was cancelled."""

    def __init__(self, job: Job) -> None:
        super().__init__()
        self._job = job

    def outcomes(
        self, runs: Sequence[SavedRun], strategies: Sequence[Strategy], progress: Callable[[int], None] | None = None
    ) -> Outcomes:
        """As of the evaluator."""

        def tell(done: int) -> None:
            _stop(self._job)
            if progress:
                progress(done)

        _stop(self._job)
        return super().outcomes(runs, strategies, tell)


def measure_margins(paths: Sequence[Path], spec: str, palette: str, job: Job) -> Stress | None:
    """The margins of a strategy on these runs. Raises SidelongError."""
    return _until_cancelled(
        job, lambda runs, tell: stress(runs, load_strategy(spec), evaluator=_Watched(job), progress=tell), paths, palette
    )


def tune_settings(paths: Sequence[Path], spec: str, palette: str, job: Job) -> Tuning | None:
    """The settings that read these runs. Raises SidelongError."""

    def work(runs: Sequence[SavedRun], tell: Callable[[str, int, int], None]) -> Tuning:
        strategy, copies = load_strategy(spec), altered_copies(runs)
        return tune(runs, strategy, copies=copies, evaluator=_Watched(job), progress=tell)

    return _until_cancelled(job, work, paths, palette)


def _until_cancelled(
    job: Job, work: Callable[[Sequence[SavedRun], Callable[[str, int, int], None]], T], paths: Sequence[Path], palette: str
) -> T | None:
    told = 0.0

    def tell(what: str, done: int, of: int) -> None:
        nonlocal told
        _stop(job)
        if time.monotonic() - told >= TOLD_EVERY_S:
            told = time.monotonic()
            job.give((what, done, of))

    try:
        found = saved_runs(paths, palette=palette, progress=lambda done: tell(tr("runs loaded"), done, len(paths)))
        return work(found.runs, tell)
    except _CancelledError:
        return None


def _stop(job: Job) -> None:
    if job.cancelled:
        raise _CancelledError
