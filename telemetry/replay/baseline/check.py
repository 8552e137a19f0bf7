"""Hold today's readings against the agreed ones, and name every run and slot that differs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from pathlib import Path

from msgspec import structs

from telemetry.course import EMPTY
from telemetry.errors import SidelongError
from telemetry.findings import Finding, FindingKind
from telemetry.reading.strategy import Strategy
from telemetry.recording.load import load
from telemetry.replay.baseline.entry import NOTHING, AgreedReading, BaselineEntry
from telemetry.replay.baseline.file import Agreed, relative, stages_in_words
from telemetry.replay.case import Given
from telemetry.replay.compare import ComparisonRequest, compare
from telemetry.replay.judge import explain_against
from telemetry.replay.scoring.results import Result
from telemetry.wording import sentences

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
    GONE = "not read any more"
    """The recording was not replayed: gone, damaged or not named."""
    SURE = "as sure no more"
    """The colour is the same; how sure the strategy is of it has changed."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that is no longer as agreed. ``slot`` is empty where it concerns the whole run.

    ``findings``: why it is read otherwise, or not at all. ``problem``: what kept the recording from being read.
    """

    strategy: str
    recording: str
    slot: str
    was: str
    now: str
    findings: tuple[Finding, ...] = ()
    problem: str = ""
    kind: DifferenceKind = DifferenceKind.OTHER
    readings: int = 1
    """How many of those agreed on differ: of a run that was not replayed, all."""

    @property
    def why(self) -> str:
        """In words: what kept the recording from being read, or what was found."""
        found = (structs.replace(one, slot="") if self.slot else one for one in self.findings)
        return self.problem or "; ".join(sentences(found))


@dataclass(frozen=True, slots=True)
class RegressionCheck:
    """What a check found. ``strategies``: those that are built otherwise now; ``new``: runs not agreed.

    ``surer``: readings of the same colour that are now more or less sure by SURE_APART; they are no differences.
    """

    differences: tuple[Difference, ...]
    surer: tuple[Difference, ...]
    strategies: tuple[Finding, ...]
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
    runs = {key: BaselineEntry.of(result) for key, result in results.items()}
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
            gone = FindingKind.NOT_REPLAYED if (folder / recording).exists() else FindingKind.FILE_GONE
            problem = str(errors.get(recording, ""))
            found = () if problem else (Finding(gone),)
            lost = Difference(strategy, recording, "", kept.words, "not read at all", found, problem, DifferenceKind.GONE)
            differences.append(replace(lost, readings=max(1, len(kept.slots))))
        elif not kept.reads_like(today):
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


def _differences(
    result: Result, kept: BaselineEntry, today: BaselineEntry, names: tuple[str, str], reasons: Mapping[str, Finding]
) -> list[Difference]:
    if kept.says or today.says:
        was, now = (one.says or "readings" for one in (kept, today))
        return [Difference(*names, "", was, now, result.findings)]
    out = []
    for slot in dict.fromkeys([*kept.slots, *today.slots]):
        before, after = kept.slots.get(slot), today.slots.get(slot)
        if before is None or after is None or before.colour != after.colour:
            was, now = ("no such slot" if one is None else one.words for one in (before, after))
            why = (reasons[slot],) if slot in reasons else ()
            out.append(Difference(*names, slot, was, now, why, kind=_kind(result, slot, before, after)))
    if kept.beyond != today.beyond:
        was, now = (", ".join(one.beyond) or NOTHING for one in (kept, today))
        why = (reasons[""],) if "" in reasons else ()
        out.append(Difference(*names, "beyond the slots", was, now, why))
    return out


def _kind(result: Result, slot: str, before: AgreedReading | None, after: AgreedReading | None) -> DifferenceKind:
    """Whether a slot's reading became right or wrong, by the truth as it is known today."""
    if result.run.truth is None or slot not in result.run.slots:
        return DifferenceKind.OTHER
    true = result.run.truth[result.run.slots.index(slot)]
    was, now = (one is not None and (one.colour or EMPTY) == true for one in (before, after))
    if was == now:
        return DifferenceKind.OTHER
    return DifferenceKind.BROKEN if was else DifferenceKind.MENDED


def _surer(kept: BaselineEntry, today: BaselineEntry, names: tuple[str, str]) -> list[Difference]:
    out = []
    for slot in [slot for slot in kept.slots if slot in today.slots]:
        was, now = kept.slots[slot], today.slots[slot]
        if was.colour != now.colour or was.confidence is None or now.confidence is None:
            continue
        if abs(now.confidence - was.confidence) >= SURE_APART:
            out.append(Difference(*names, slot, was.words, now.words, kind=DifferenceKind.SURE))
    return out


def _reasons(given: Given, strategy: Strategy, result: Result, kept: BaselineEntry) -> dict[str, Finding]:
    """Slot -> why it is read otherwise now: today's run explained as if the agreed readings had stood there."""
    if tuple(kept.slots) != result.run.slots or not kept.slots:
        return {}
    wanted = tuple(colour or EMPTY for colour in kept.colours.values())
    found = explain_against(given.case(load(result.run.recording)), strategy, wanted)
    return {one.slot: one for one in found}


def _built_otherwise(agreed: Agreed, now: Agreed) -> list[Finding]:
    return [
        Finding(FindingKind.BUILT_OTHERWISE, cause=name, numbers={"was": stages, "now": now.strategies[name]})
        for name, stages in agreed.strategies.items()
        if now.strategies.get(name, stages) != stages
    ]

