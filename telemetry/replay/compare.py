"""Many recordings through many strategies: what each is worth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from telemetry.replay.scoring.results import ROBOT, Result, Summary, ranked, summarise
from telemetry.replay.scoring.score import Outcome
from telemetry.replay.workers import Bench, Job, Judged, Progress, Workers

__all__ = ["Bench", "Comparison", "Job", "Judged", "compare"]

VERDICTS = 24
"""Of so many misread runs it is asked whether sensor or logic failed, unless all are asked for: an answer takes about as
long as a hundred replays."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """All of it. ``robot`` and ``own`` are what the robot's programs said they read, if they did."""

    results: tuple[Result, ...]
    summaries: tuple[Summary, ...]
    robot: tuple[Result, ...]
    own: Summary | None
    problems: tuple[Judged, ...]


def compare(
    paths: Sequence[Path], job: Job, *, cores: int | None = None, progress: Progress | None = None
) -> Comparison:
    """Replay all recordings. ``progress`` is told how many are done. Raises SidelongError where the job itself is wrong.

    Where there are more than VERDICTS recordings and not all verdicts are asked for, only runs that the best strategy
    misread get one.
    """
    bench = Bench(job)
    few = len(paths) <= VERDICTS
    with Workers(bench, len(paths) * len(bench.strategies), cores) as workers:
        judged = workers.judged(paths, job.reasons and (few or job.verdicts), progress)
        if job.reasons and not few and not job.verdicts:
            again = _misread_by_the_best(judged, bench)
            told = {one.path: one for one in workers.judged(again, True)}
            judged = [told.get(one.path, one) for one in judged]
    good = [one for one in judged if one.problem is None]
    results = tuple(result for one in good for result in one.results)
    robot = tuple(one.robot for one in good if one.robot is not None)
    summaries = tuple(summarise(name, results) for name in bench.strategies)
    own = summarise(ROBOT, robot) if robot else None
    return Comparison(results, summaries, robot, own, tuple(one for one in judged if one.problem is not None))


def _misread_by_the_best(judged: Sequence[Judged], bench: Bench) -> list[Path]:
    by_path: Mapping[Path, tuple[Result, ...]] = {one.path: one.results for one in judged}
    every = [result for results in by_path.values() for result in results]
    best = ranked([summarise(name, every) for name in bench.strategies])[0].strategy
    wrong = [
        path for path, results in by_path.items()
        if any(result.strategy == best and result.outcome is Outcome.WRONG for result in results)
    ]  # fmt: skip
    return wrong[:VERDICTS]
