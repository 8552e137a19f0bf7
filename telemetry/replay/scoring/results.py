"""What a comparison found: one result for each run and strategy, and what they add up to."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import msgspec

from telemetry.findings import Finding
from telemetry.replay.readings import ASSUMED, Taken
from telemetry.replay.scoring.score import Errors, Outcome, Score
from telemetry.replay.scoring.statistics import Interval, McNemar, mcnemar, wilson
from telemetry.replay.verdict_kind import Verdict
from telemetry.wording import sentences

ROBOT = "the robot itself"
"""The row of what the robot's own program said it read."""
NEARLY_ALL = 0.9
"""A strategy that was judged on fewer than this share of the runs that others were judged on is not ranked among them."""


class Run(msgspec.Struct, frozen=True):
    """What is true of a recording whatever the strategy. ``slots`` are the course's names; ``run_ms`` its length."""

    recording: str
    course: str
    slots: tuple[str, ...]
    truth: tuple[str, ...] | None
    run_ms: int
    simulated: bool
    remarks: tuple[Finding, ...] = ()


class Result(msgspec.Struct, frozen=True):
    """One strategy on one run.

    ``outcome`` and ``score`` are None where the truth is not known. ``decided_ms`` counts from the run's first sample and is
    None where a slot stayed open. ``findings``: each thing that went wrong, or why nothing can be said.
    """

    run: Run
    strategy: str
    taken: Taken
    outcome: Outcome | None
    score: Score | None
    decided_ms: int | None
    findings: tuple[Finding, ...] = ()
    verdict: Verdict | None = None
    """Of a misread run: sensor or logic."""

    @property
    def why(self) -> tuple[str, ...]:
        """The findings in words, one sentence each."""
        return sentences(self.findings)

    @property
    def counts(self) -> bool:
        """Whether this run says anything about the strategy."""
        return self.outcome in {Outcome.RIGHT, Outcome.WRONG}

    @property
    def was_wrong(self) -> bool:
        """Whether the run was misread."""
        return self.outcome is Outcome.WRONG


@dataclass(frozen=True, slots=True)
class StrategySummary:
    """One strategy over all runs. ``runs`` are those that count; ``points``: their mean, ``decided_ms``: their median."""

    strategy: str
    runs: int
    correct: int
    wilson95: Interval | None
    errors: Errors
    points: float | None
    decided_ms: int | None
    not_applicable: int
    diverges: int
    untold: int
    hardest: tuple[tuple[str, int], ...]
    """Slots that went wrong, the most frequent first, with how often."""
    assumed: int = 0
    """Colours that were not read but assumed, because the run had to go on."""
    assumed_right: int = 0
    """Those of them that happened to be right."""
    says_how_sure: bool = False
    """Whether its readings come with how sure they are."""

    @property
    def rate(self) -> float | None:
        """The share of runs read right; None where no run counts."""
        return self.correct / self.runs if self.runs else None

    @property
    def faults(self) -> int:
        """The errors, and what was right only because it was guessed: by this, strategies that are right as often differ."""
        return self.errors.total + self.assumed_right


def summarise(strategy: str, results: Iterable[Result]) -> StrategySummary:
    """What one strategy's results add up to."""
    mine = [result for result in results if result.strategy == strategy]
    counted = [result for result in mine if result.counts]
    errors = Errors()
    hardest: Counter[str] = Counter()
    points = []
    assumed: Counter[bool] = Counter()
    for result in counted:
        if result.score is None:
            continue
        errors += result.score.errors
        for reading, slot in zip(result.taken.slots, result.score.slots, strict=True):
            if reading.how == ASSUMED:
                assumed[slot == "right"] += 1
        hardest.update(name for name, slot in zip(result.run.slots, result.score.slots, strict=True) if slot != "right")
        if result.score.points is not None:
            points.append(result.score.points)
    correct = sum(result.outcome is Outcome.RIGHT for result in counted)
    decided = [result.decided_ms for result in counted if result.decided_ms is not None]
    return StrategySummary(
        strategy, len(counted), correct, wilson(correct, len(counted)), errors,
        sum(points) / len(points) if points else None, round(_median(decided)) if decided else None,
        sum(result.outcome is Outcome.NOT_APPLICABLE for result in mine),
        sum(result.outcome is Outcome.DIVERGES for result in mine),
        sum(result.outcome is None for result in mine), tuple(hardest.most_common()), assumed.total(), assumed[True],
        any(reading.confidence is not None for result in counted for reading in result.taken.slots),
    )  # fmt: skip


def ranked(summaries: Sequence[StrategySummary]) -> list[StrategySummary]:
    """The best first: share of runs right; of equals the one with fewer faults, fewer guesses, that says how sure it is.

    A colour that was only assumed counts as a fault even where it happened to be right: the run says nothing for it. A
    strategy that says how sure it is lets the robot act on that. What is still equal: more runs, then as they came.
    Strategies that were judged on too few of the runs (see ``comparable``) come behind all others: one run read right says
    less than thirty of which some were read wrong.
    """
    peers = {one.strategy for one in comparable(summaries)}

    def place(one: StrategySummary) -> tuple[bool, float, int, int, bool, int]:
        rate = -1.0 if one.rate is None else one.rate
        return one.strategy not in peers, -rate, one.faults, one.assumed, not one.says_how_sure, -one.runs

    return sorted(summaries, key=place)


def comparable(summaries: Sequence[StrategySummary]) -> list[StrategySummary]:
    """Those that were judged on (nearly) as many runs as the one judged on most; none where no run counts.

    One that was judged on fewer is among them if it would be the best even had it read all the others wrong.
    """
    most = max((one.runs for one in summaries), default=0)
    many = {one.strategy for one in summaries if one.runs and one.runs >= NEARLY_ALL * most}
    best = max((one.correct for one in summaries if one.strategy in many), default=0)
    return [one for one in summaries if one.strategy in many or (one.runs and one.correct > best)]


def paired(first: str, second: str, results: Sequence[Result]) -> McNemar | None:
    """McNemar's test on the runs that say something about both; None where there is none."""
    counted = [result for result in results if result.counts]
    verdicts = [
        {result.run.recording: result.outcome is Outcome.RIGHT for result in counted if result.strategy == name}
        for name in (first, second)
    ]
    shared = verdicts[0].keys() & verdicts[1].keys()
    if not shared:
        return None
    pairs = Counter((verdicts[0][run], verdicts[1][run]) for run in shared)
    return mcnemar(pairs[True, True], pairs[True, False], pairs[False, True], pairs[False, False])


def _median(values: Sequence[float]) -> float:
    ordered = sorted(values)
    middle = len(ordered) // 2
    return ordered[middle] if len(ordered) % 2 else (ordered[middle - 1] + ordered[middle]) / 2
