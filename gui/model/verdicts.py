"""What every strategy makes of one run: asked of the same evaluator as a comparison, which remembers it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from telemetry.reading.load import load_strategy
from telemetry.replay.case import EVERYTHING, READINGS_ONLY, Given
from telemetry.replay.evaluate import Evaluator
from telemetry.replay.scoring.results import Result
from telemetry.replay.scoring.score import Outcome
from telemetry.replay.sources import chosen_strategies

if TYPE_CHECKING:
    from telemetry.palette import Palette
    from telemetry.recording.load import Recording


@dataclass(frozen=True, slots=True)
class RunResults:
    """One run's results, the robot's own last where it said what it read."""

    path: Path
    recording: Recording
    results: tuple[Result, ...]

    @property
    def by_strategy(self) -> dict[str, Result]:
        return {result.strategy: result for result in self.results}

    @property
    def right(self) -> list[Result]:
        return [result for result in self.results if result.outcome is Outcome.RIGHT]


def verdict_on(
    evaluator: Evaluator, recording: Recording, palette: Palette | None, in_use: str = "", *,
    alone: bool = False, reasons: bool = True,
) -> RunResults:  # fmt: skip
    """One run through all named strategies and the one ``in_use``, or through that one ``alone``.

    A result goes by the name or the file of its strategy. Raises SidelongError.
    """
    strategies = {} if alone else chosen_strategies((), ())
    if in_use and in_use not in strategies:
        strategies[in_use] = load_strategy(in_use)
    found = evaluator.one(recording, strategies, Given(palette=palette), ask=EVERYTHING if reasons else READINGS_ONLY)
    for error in (found.problem, *found.failed.values()):
        if error is not None:
            raise error
    robot = [found.robot] if found.robot is not None else []
    return RunResults(recording.path, recording, (*found.results, *robot))
