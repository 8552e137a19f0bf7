"""Hold today's readings against the agreed ones, and name every run and slot that differs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from pathlib import Path

from telemetry.course import EMPTY
from telemetry.errors import SidelongError
from telemetry.reading.strategy import Strategy
from telemetry.recording.load import load
from telemetry.replay.baseline.file import Agreed, BaselineEntry, colour_of, kept_of, relative, stages_in_words, sure_of
from telemetry.replay.case import Given
from telemetry.replay.compare import ComparisonRequest, compare
from telemetry.replay.judge import explain_against
from telemetry.replay.scoring.results import Result
from telemetry.wording import sentence

SURE_APART = 0.05
"""A reading that is surer or less sure by this much is named."""


class DifferenceKind(Enum):
    """What a difference means, held against what really stood there."""

    BROKEN = "broken"
    """It was right and is not."""
    MENDED = "mended"
    """It was not right and is."""
    OTHER = "different"
    """Neither was right, or what stood there is not known."""
    SURE = "as sure no more"
    """The colour is the same; how sure the strategy is of it has changed."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that is no longer as agreed. ``slot`` is empty where it concerns the whole run."""

    strategy: str
    recording: str
    slot: str
    was: str
    now: str
    why: str = ""
    kind: DifferenceKind = DifferenceKind.OTHER


@dataclass(frozen=True, slots=True)
class RegressionCheck:
    """What a check found. ``strategies``: sentences on strategies that are built otherwise now; ``new``: runs not agreed.

    ``surer``: readings of the same colour that are now more or less sure by SURE_APART; they are no differences.
    """

    differences: tuple[Difference, ...]
    surer: tuple[Difference, ...]
    strategies: tuple[str, ...]
    new: tuple[str, ...]
    runs: int
    readings: int
    now: Agreed


def present(
    paths: Sequence[Path], job: ComparisonRequest, folder: Path, progress: Callable[[int], None] | None = None
) -> tuple[Agreed, dict[tuple[str, str], Result], dict[str, SidelongError]]:
    """What all strategies read today, as the file in ``folder`` would keep it; the results; and recording -> its error."""
    comparison = compare(paths, replace(job, reasons=False), progress=progress)
    results = {(one.strategy, relative(one.run.recording, folder)): one for one in comparison.results}
    chosen = job.chosen()
    strategies = {name: stages_in_words(one) for name, one in chosen.items()}
    files = {
        name: relative(spec, folder)
        for name, spec in zip(chosen, job.strategies, strict=False) if Path(spec).suffix in {".toml", ".py"}
    }  # fmt: skip
    runs = {key: kept_of(result) for key, result in results.items()}
    errors = {relative(one.path, folder): one.problem for one in comparison.problems if one.problem is not None}
    course, palette = (relative(word, folder) if word else "" for word in (job.course, job.palette))
    return Agreed(strategies, job.settings, course, palette, files, runs), results, errors


def check(
    agreed: Agreed,
    paths: Sequence[Path],
    job: ComparisonRequest,
    folder: Path,
    progress: Callable[[int], None] | None = None,
) -> RegressionCheck:
    """Replay ``paths`` as ``job`` says and hold the readings against ``agreed``."""
    now, results, errors = present(paths, job, folder, progress)
    strategies, given = job.chosen(), job.given()
    differences: list[Difference] = []
    surer: list[Difference] = []
    for (strategy, recording), kept in agreed.runs.items():
        if strategy not in now.strategies:
            continue
        today = now.runs.get((strategy, recording))
        if today is None:
            gone = str(errors.get(recording, "the recording is not among those replayed"))
            differences.append(Difference(strategy, recording, "", _in_words(kept), "no readings", gone))
        elif not _same(kept, today):
            result = results[strategy, recording]
            reasons = _reasons(given, strategies[strategy], result, kept)
            differences += _differences(result, kept, today, (strategy, recording), reasons)
        if today is not None:
            surer += _surer(kept, today, (strategy, recording))
    agreed_names = {recording for _, recording in agreed.runs}
    new = sorted({recording for _, recording in now.runs} - agreed_names)
    compared = [kept for (strategy, _), kept in agreed.runs.items() if strategy in now.strategies]
    return RegressionCheck(
        tuple(differences), tuple(surer), tuple(_built_otherwise(agreed, now)), tuple(new), len(agreed_names),
        sum(len(kept.slots) for kept in compared), now,
    )  # fmt: skip


def _same(kept: BaselineEntry, today: BaselineEntry) -> bool:
    if (kept.says, kept.beyond) != (today.says, today.beyond):
        return False
    return {slot: colour_of(words) for slot, words in kept.slots.items()} == {
        slot: colour_of(words) for slot, words in today.slots.items()
    }


def _differences(
    result: Result, kept: BaselineEntry, today: BaselineEntry, names: tuple[str, str], reasons: Mapping[str, str]
) -> list[Difference]:
    if kept.says or today.says:
        was, now = (one.says or "readings" for one in (kept, today))
        why = "; ".join(result.why)
        return [Difference(*names, "", was, now, why)]
    out = []
    for slot in dict.fromkeys([*kept.slots, *today.slots]):
        was, now = kept.slots.get(slot, "no such slot"), today.slots.get(slot, "no such slot")
        if colour_of(was) != colour_of(now):
            out.append(Difference(*names, slot, was, now, reasons.get(slot, ""), _kind(result, slot, was, now)))
    if kept.beyond != today.beyond:
        was, now = (", ".join(one.beyond) or "-" for one in (kept, today))
        out.append(Difference(*names, "beyond the slots", was, now, reasons.get("", "")))
    return out


def _kind(result: Result, slot: str, was: str, now: str) -> DifferenceKind:
    """Whether a slot's reading became right or wrong, by the truth as it is known today."""
    if result.run.truth is None or slot not in result.run.slots:
        return DifferenceKind.OTHER
    true = result.run.truth[result.run.slots.index(slot)]
    before, after = ((colour_of(words) or EMPTY) == true for words in (was, now))
    return (
        DifferenceKind.BROKEN
        if before and not after
        else DifferenceKind.MENDED
        if after and not before
        else DifferenceKind.OTHER
    )


def _surer(kept: BaselineEntry, today: BaselineEntry, names: tuple[str, str]) -> list[Difference]:
    out = []
    for slot in [slot for slot in kept.slots if slot in today.slots]:
        was, now = kept.slots[slot], today.slots[slot]
        before, after = sure_of(was), sure_of(now)
        if colour_of(was) != colour_of(now) or before is None or after is None:
            continue
        if abs(after - before) >= SURE_APART:
            out.append(Difference(*names, slot, was, now, kind=DifferenceKind.SURE))
    return out


def _reasons(given: Given, strategy: Strategy, result: Result, kept: BaselineEntry) -> dict[str, str]:
    """Slot -> why it is read otherwise now: today's run explained as if the agreed readings had stood there."""
    if tuple(kept.slots) != result.run.slots or not kept.slots:
        return {}
    wanted = tuple(colour_of(words) or EMPTY for words in kept.slots.values())
    reasons: dict[str, str] = {}
    for one in explain_against(given.case(load(result.run.recording)), strategy, wanted):
        reasons[one.slot] = sentence(replace(one, slot=""))
    return reasons


def _built_otherwise(agreed: Agreed, now: Agreed) -> list[str]:
    out = []
    for name, stages in agreed.strategies.items():
        today = now.strategies.get(name)
        if today is None:
            continue
        if today != stages:
            out.append(f"strategy {name} is built otherwise now: it was {' > '.join(stages)}, it is {' > '.join(today)}")
    return out


def _in_words(kept: BaselineEntry) -> str:
    return kept.says or ", ".join(f"{slot} {words}" for slot, words in kept.slots.items()) or "readings"
