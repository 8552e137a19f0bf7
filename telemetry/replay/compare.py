"""Many recordings through many strategies, on all cores, with the files read once each."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

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
from telemetry.replay.results import ROBOT, Result, Summary, summarise
from telemetry.replay.runner import Runner, Shared
from telemetry.replay.sources import chosen_strategies

WORTH_A_PROCESS = 120
"""Up to this many replays one process is faster than starting others."""
BATCH = 12


@dataclass(frozen=True, slots=True)
class Job:
    """What is to be done with every recording; plain text, so that a worker process can be told.

    ``truth`` and ``course`` stand in for what the recordings say. ``reasons``: explain what was read wrong.
    """

    strategies: tuple[str, ...] = ()
    settings: tuple[str, ...] = ()
    course: str = ""
    truth: str = ""
    palette: str = ""
    reasons: bool = True


@dataclass(frozen=True, slots=True)
class Judged:
    """One recording's results; or ``problem``, the error because of which there are none."""

    path: Path
    results: tuple[Result, ...] = ()
    robot: Result | None = None
    problem: SidelongError | None = None


@dataclass(frozen=True, slots=True)
class Comparison:
    """All of it. ``robot`` and ``own`` are what the robot's programs said they read, if they did."""

    results: tuple[Result, ...]
    summaries: tuple[Summary, ...]
    robot: tuple[Result, ...]
    own: Summary | None
    problems: tuple[Judged, ...]


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

    def judged(self, path: Path) -> Judged:
        """One recording through every strategy."""
        try:
            recording = load(path)
            course, truth = self._course_and_truth(recording)
            results, robot = judge(
                path.as_posix(), recording.table, course, truth, self.strategies, palette=self.palette,
                palette_text=recording.meta.palette, simulated=recording.meta.simulated, reasons=self.job.reasons,
                shelf=self.shelf,
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


def compare(
    paths: Sequence[Path], job: Job, *, cores: int | None = None, progress: Callable[[int], None] | None = None
) -> Comparison:
    """Replay all recordings. ``progress`` is told how many are done. Raises SidelongError where the job itself is wrong."""
    bench = Bench(job)
    judged = sorted(_all(paths, bench, cores, progress), key=lambda pair: pair[0])
    good = [one for _, one in judged if one.problem is None]
    results = tuple(result for one in good for result in one.results)
    robot = tuple(one.robot for one in good if one.robot is not None)
    summaries = tuple(summarise(name, results) for name in bench.strategies)
    own = summarise(ROBOT, robot) if robot else None
    return Comparison(results, summaries, robot, own, tuple(one for _, one in judged if one.problem is not None))


def _all(
    paths: Sequence[Path], bench: Bench, cores: int | None, progress: Callable[[int], None] | None
) -> Iterator[tuple[int, Judged]]:
    """(index of the path, its results), in any order."""
    workers = min(cores or _cores(), len(paths) * len(bench.strategies) // WORTH_A_PROCESS + 1)
    if workers < 2:
        for index, path in enumerate(paths):
            yield index, bench.judged(path)
            if progress:
                progress(index + 1)
        return
    done = 0
    # Spawned, not forked: the same on every system, and no lock of a library is copied in mid-use.
    with ProcessPoolExecutor(workers, get_context("spawn"), _prepare, (bench.job,)) as pool:
        starts = iter(range(0, len(paths), BATCH))
        waiting: dict[Future[list[Judged]], int] = {}
        try:
            while True:
                # Only a few batches ahead, so that Ctrl-C need not wait for a queue to be worked off.
                while len(waiting) < workers * 3 and (start := next(starts, None)) is not None:
                    waiting[pool.submit(_work, list(paths[start : start + BATCH]))] = start
                if not waiting:
                    return
                for future in wait(waiting, return_when=FIRST_COMPLETED).done:
                    start = waiting.pop(future)
                    for offset, one in enumerate(future.result()):
                        done += 1
                        yield start + offset, one
                if progress:
                    progress(done)
        except BaseException:
            pool.shutdown(wait=True, cancel_futures=True)
            raise


_bench: Bench | None = None


def _prepare(job: Job) -> None:
    """A worker process begins. Ctrl-C is the parent's business."""
    global _bench  # noqa: PLW0603
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _bench = Bench(job)


def _work(paths: list[Path]) -> list[Judged]:
    assert _bench is not None
    return [_bench.judged(path) for path in paths]


def _cores() -> int:
    affinity = getattr(os, "sched_getaffinity", None)
    return len(affinity(0)) if affinity else os.cpu_count() or 1
