"""Many recordings through many strategies: what each is worth."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace
from pathlib import Path

from telemetry.course import load_course, parse_truth
from telemetry.palette_file import read_palette
from telemetry.reading.strategy import Strategy
from telemetry.replay.evaluate import Ask, Evaluated, Evaluator, Given, one_a_core
from telemetry.replay.scoring.results import ROBOT, Result, StrategySummary, ranked, summarise
from telemetry.replay.sources import chosen_strategies

VERDICTS = 24
"""Of so many misread runs it is asked whether sensor or logic failed, unless all are asked for: for an answer some ten
more readers are asked."""
SHOWN = 12
"""Of so many runs that a strategy misread a page names the reasons, unless all are asked for."""
Progress = Callable[[int], None]


@dataclass(frozen=True, slots=True)
class ComparisonRequest:
    """What is to be done with every recording, in the words of the command line.

    ``truth``, ``palette`` and ``course`` stand in for what the recordings say. ``reasons``: explain what was read wrong.
    ``every_reason`` false: of many runs only those of which a page shows reasons (SHOWN), which saves a third of the time.
    ``settings_in_names``: see ``chosen_strategies``.
    ``verdicts``: also ask of every misread run whether the sensor or the logic failed; else, of many, only of some.
    """

    strategies: tuple[str, ...] = ()
    settings: tuple[str, ...] = ()
    course: str = ""
    truth: str = ""
    palette: str = ""
    reasons: bool = True
    verdicts: bool = False
    every_reason: bool = True
    settings_in_names: bool = False

    def chosen(self) -> dict[str, Strategy]:
        """The strategies, by the name each goes by. Raises StrategyError or UsageError."""
        return chosen_strategies(self.strategies, self.settings, settings_in_names=self.settings_in_names)

    def given(self) -> Given:
        """Course, palette and truth, read from their files. Raises CourseError, PaletteError or TruthError."""
        course = load_course(Path(self.course)) if self.course else None
        palette = read_palette(Path(self.palette)) if self.palette else None
        if course is not None and self.truth:
            parse_truth(self.truth, course, "--truth")
        return Given(course, palette, self.truth)


@dataclass(frozen=True, slots=True)
class Comparison:
    """All of it. ``robot`` and ``own`` are what the robot's programs said they read, if they did."""

    results: tuple[Result, ...]
    summaries: tuple[StrategySummary, ...]
    robot: tuple[Result, ...]
    own: StrategySummary | None
    problems: tuple[Evaluated, ...]


def compare(
    paths: Sequence[Path], job: ComparisonRequest, *, cores: int | None = None, progress: Progress | None = None,
    executor: Executor | None = None,
) -> Comparison:  # fmt: skip
    """Replay all recordings. ``progress`` is told how many are done. Raises SidelongError where the job itself is wrong.

    Where there are more than VERDICTS recordings and not all verdicts are asked for, only runs that the best strategy
    misread get one. ``executor`` does the work instead of ``cores`` processes of our own.
    """
    strategies, given = job.chosen(), job.given()
    few = len(paths) <= VERDICTS
    ask = Ask(job.reasons and (few or job.verdicts or job.every_reason), job.reasons and (few or job.verdicts))
    evaluator = Evaluator()
    workers: AbstractContextManager[Executor | None]
    workers = nullcontext(executor) if executor is not None else one_a_core(len(paths) * len(strategies), cores)
    with workers as pool:
        found = evaluator.evaluate(paths, strategies, given, ask=ask, executor=pool, progress=progress)
        if job.reasons and not ask.verdict:
            again = _misread_by_the_best(found, strategies)
            shown = [] if ask.why else [path for path in _shown(found, strategies) if path not in set(again)]
            more = evaluator.evaluate(again, strategies, given, ask=Ask(why=True, verdict=True), executor=pool)
            more += evaluator.evaluate(shown, strategies, given, ask=Ask(why=True), executor=pool)
            told = {one.path: one for one in more}
            found = [told.get(one.path, one) for one in found]
    found = [replace(one, problem=next(iter(one.failed.values()))) if one.failed else one for one in found]
    good = [one for one in found if one.problem is None]
    results = tuple(result for one in good for result in one.results)
    robot = tuple(one.robot for one in good if one.robot is not None)
    summaries = tuple(summarise(name, results) for name in strategies)
    own = summarise(ROBOT, robot) if robot else None
    return Comparison(results, summaries, robot, own, tuple(one for one in found if one.problem is not None))


def _misread_by_the_best(found: Sequence[Evaluated], strategies: Mapping[str, Strategy]) -> list[Path]:
    return _misread(found, _best_first(found, strategies)[0])[:VERDICTS]


def _shown(found: Sequence[Evaluated], strategies: Mapping[str, Strategy]) -> list[Path]:
    """The runs of which a page names the reasons: those misread by the best that failed; of two strategies, by either."""
    wrong = [_misread(found, name)[:SHOWN] for name in _best_first(found, strategies)]
    failed = [paths for paths in wrong if paths]
    return list(dict.fromkeys(path for paths in (failed if len(strategies) <= 2 else failed[:1]) for path in paths))


def _best_first(found: Sequence[Evaluated], strategies: Mapping[str, Strategy]) -> list[str]:
    every = [result for one in found for result in one.results]
    return [one.strategy for one in ranked([summarise(name, every) for name in strategies])]


def _misread(found: Sequence[Evaluated], strategy: str) -> list[Path]:
    return [one.path for one in found if any(result.strategy == strategy and result.was_wrong for result in one.results)]
