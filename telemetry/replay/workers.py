"""Recordings through strategies, on all cores, with every file read once."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from types import TracebackType

from telemetry.course import Course, Truth, load_course, parse_truth
from telemetry.errors import SidelongError
from telemetry.palette import Palette
from telemetry.palette_file import read_palette
from telemetry.reading.strategy import Strategy
from telemetry.recording.load import Recording, load
from telemetry.replay.explain import explain
from telemetry.replay.header import PlanShelf, palette_for, plan_for
from telemetry.replay.judge import judge
from telemetry.replay.log import RunLog
from telemetry.replay.runner import Runner, Shared
from telemetry.replay.scoring.results import Result
from telemetry.replay.sources import chosen_strategies

WORTH_A_PROCESS = 120
"""Up to this many replays one process is faster than starting others."""
BATCH = 12
Progress = Callable[[int], None]


@dataclass(frozen=True, slots=True)
class Job:
    """What is to be done with every recording; plain text, so that a worker process can be told.

    ``truth`` and ``course`` stand in for what the recordings say. ``reasons``: explain what was read wrong. ``verdicts``:
    also ask of every misread run whether the sensor or the logic failed; else, where there are many, only of some.
    """

    strategies: tuple[str, ...] = ()
    settings: tuple[str, ...] = ()
    course: str = ""
    truth: str = ""
    palette: str = ""
    reasons: bool = True
    verdicts: bool = False


@dataclass(frozen=True, slots=True)
class Judged:
    """One recording's results; or ``problem``, the error because of which there are none."""

    path: Path
    results: tuple[Result, ...] = ()
    robot: Result | None = None
    problem: SidelongError | None = None


class Bench:
    """A job made ready: strategies, course and palette loaded once for many recordings."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.shelf = PlanShelf()
        self.strategies: Mapping[str, Strategy] = chosen_strategies(job.strategies, job.settings)
        self.course: Course | None = load_course(Path(job.course)) if job.course else None
        self.palette: Palette | None = read_palette(Path(job.palette)) if job.palette else None
        if self.course is not None and job.truth:
            parse_truth(job.truth, self.course, "--truth")

    def judged(self, path: Path, verdicts: bool) -> Judged:
        """One recording through every strategy. ``verdicts``: whether a misread run is asked: sensor or logic?"""
        try:
            recording = load(path)
            course, truth = self._course_and_truth(recording)
            results, robot = judge(
                path.as_posix(), recording.table, course, truth, self.strategies, palette=self.palette,
                palette_text=recording.meta.palette, simulated=recording.meta.simulated, reasons=self.job.reasons,
                verdicts=verdicts, shelf=self.shelf,
            )  # fmt: skip
        except SidelongError as error:
            return Judged(path, problem=error)
        return Judged(path, tuple(results), robot)

    def explain_against(self, path: Path, strategy: str, wanted: Truth) -> tuple[str, ...]:
        """Why a strategy reads this recording otherwise than ``wanted`` (one colour a slot): a sentence a slot."""
        recording = load(path)
        course, _ = self._course_and_truth(recording)
        if course is None:
            return ()
        palette = palette_for(recording.table, course, self.palette, recording.meta.palette, f"{path}, palette")
        shared = Shared()
        runner = Runner(plan_for(self.strategies[strategy], course, palette, recording.table), shared)
        runner.advance(recording.table)
        runner.finish()
        return explain(course, wanted, runner.taken, RunLog(runner, recording.table, shared), standing="was agreed")

    def _course_and_truth(self, recording: Recording) -> tuple[Course | None, Truth | None]:
        """What the command line says goes before what the recording says."""
        course = self.course or recording.course
        if course is None:
            return None, None
        if self.job.truth:
            return course, parse_truth(self.job.truth, course, "--truth")
        if self.course is None or recording.meta.truth is None:
            return course, recording.truth
        return course, parse_truth(",".join(recording.meta.truth), course, f"{recording.path}, truth")


class Workers:
    """Judges recordings in this process or, where that pays for ``replays`` of them, in one a core."""

    def __init__(self, bench: Bench, replays: int, cores: int | None = None) -> None:
        self._bench = bench
        self._count = min(cores or _cores(), replays // WORTH_A_PROCESS + 1)
        # Spawned, not forked: the same on every system, and no lock of a library is copied in mid-use.
        self._pool = (
            ProcessPoolExecutor(self._count, get_context("spawn"), _prepare, (bench.job,)) if self._count > 1 else None
        )

    def __enter__(self) -> Workers:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        if self._pool is not None:
            self._pool.shutdown(wait=True, cancel_futures=True)

    def judged(self, paths: Sequence[Path], verdicts: bool, progress: Progress | None = None) -> list[Judged]:
        """Each recording's results, in the order of ``paths``. ``progress`` is told how many are done."""
        out: dict[int, Judged] = {}
        for index, one in self._any_order(paths, verdicts):
            out[index] = one
            if progress:
                progress(len(out))
        return [out[index] for index in range(len(paths))]

    def _any_order(self, paths: Sequence[Path], verdicts: bool) -> Iterator[tuple[int, Judged]]:
        if self._pool is None:
            for index, path in enumerate(paths):
                yield index, self._bench.judged(path, verdicts)
            return
        batch = max(1, min(BATCH, len(paths) // (2 * self._count)))
        starts = iter(range(0, len(paths), batch))
        waiting: dict[Future[list[Judged]], int] = {}
        while True:
            # Only a few batches ahead, so that Ctrl-C need not wait for a queue to be worked off.
            while len(waiting) < self._count * 3 and (start := next(starts, None)) is not None:
                waiting[self._pool.submit(_work, list(paths[start : start + batch]), verdicts)] = start
            if not waiting:
                return
            for future in wait(waiting, return_when=FIRST_COMPLETED).done:
                yield from enumerate(future.result(), waiting.pop(future))


_bench: Bench | None = None


def _prepare(job: Job) -> None:
    """A worker process begins. Ctrl-C is the parent's business."""
    global _bench  # noqa: PLW0603
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _bench = Bench(job)


def _work(paths: list[Path], verdicts: bool) -> list[Judged]:
    assert _bench is not None
    return [_bench.judged(path, verdicts) for path in paths]


def _cores() -> int:
    affinity = getattr(os, "sched_getaffinity", None)
    return len(affinity(0)) if affinity else os.cpu_count() or 1
