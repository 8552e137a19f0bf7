"""The verdict on one compared run that some strategy misread: the logic, the truth, the palette, the codes or the sensor.

It rests on readers, not on a model of its own. If any strategy, or evidence with another setting, reads what the truth says,
the information is there. Else readers that agree with each other and not with the truth make the truth doubtful; then the
palette is held against the samples; then it is asked whether the samples are there at all.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from telemetry.course import Course, Truth
from telemetry.findings import Finding, FindingKind
from telemetry.palette import Palette
from telemetry.reading.strategies import STRATEGIES, evidence
from telemetry.reading.strategy import Strategy
from telemetry.replay.header import PlanShelf
from telemetry.replay.log import ONLY_LABELS, RunLog
from telemetry.replay.readings import Taken
from telemetry.replay.runner import Runner, Shared
from telemetry.replay.scoring.results import Result
from telemetry.replay.scoring.score import Outcome
from telemetry.replay.verdict.fit import fit_of
from telemetry.replay.verdict.grounds import AGREE, Grounds
from telemetry.replay.verdict.seen import seen
from telemetry.replay.verdict.slips import Colours, Slip, slip_of
from telemetry.replay.verdict_kind import CauseKind, Verdict
from telemetry.sample import SampleTable, sensor_channel

EVIDENCE = evidence.STRATEGY
PANEL = ("hold", "run-on", "smooth", "checklist", "windows", "map-and-list", "always-answer")
"""Simple readers that are asked too, whatever was compared, so that a verdict does not depend on that."""
SETTINGS: tuple[Strategy, ...] = (
    EVIDENCE.override("gather.wrong_pct=20", "gather.off_mm=100"),
    EVIDENCE.override("gather.own_pct=20", "decide.loose_pct=20"),
)
"""Tried, in this order, where no reader reads the run right."""


def verdict_of(
    results: Sequence[Result], table: SampleTable, course: Course, palette: Palette, *, shelf: PlanShelf, shared: Shared
) -> Verdict | None:
    """The verdict on a run of which some of the ``results`` are wrong; None where none is, or the truth is not known."""
    if not any(result.was_wrong for result in results):
        return None
    truth = results[0].run.truth or ()
    right = [result for result in results if result.outcome is Outcome.RIGHT]
    if right:
        return _logic(*(result.strategy for result in right), truth=truth)
    return _Readers(table, course, palette, shelf, shared).verdict(truth)


def _logic(*readers: str, truth: Truth, cause: str = "") -> Verdict:
    """Some read the run right, so the information is there. ``cause``: 'other settings' where no named strategy does."""
    return Verdict(CauseKind.LOGIC, (Finding(FindingKind.READ_RIGHT_BY, "", cause, {"readers": readers}),), truth)


class _Readers:
    """Those that are asked about one run, and what they say."""

    def __init__(self, table: SampleTable, course: Course, palette: Palette, shelf: PlanShelf, shared: Shared) -> None:
        self.table, self.course, self.palette, self.shelf, self.shared = table, course, palette, shelf, shared

    def verdict(self, truth: Truth) -> Verdict:
        """Where no compared strategy reads what the truth says."""
        by_evidence = self._taken(EVIDENCE)
        said = {name: one for name in PANEL if (one := self._taken(STRATEGIES[name])) is not None}
        for name, taken in (*(() if by_evidence is None else ((EVIDENCE.name, by_evidence),)), *said.items()):
            if _colours(taken) == truth:
                return _logic(name, truth=truth)
        for other in SETTINGS if by_evidence is not None else ():
            taken = self._taken(other)
            if taken is not None and _colours(taken) == truth:
                return _logic(_spelt(other), truth=truth, cause="other settings")
        readings = [_colours(taken) for taken in said.values()]
        return self._case(truth, by_evidence, readings).judged()

    def _case(self, truth: Truth, by_evidence: Taken | None, readings: Sequence[Colours]) -> Grounds:
        runner = self._ran(ONLY_LABELS)
        log = RunLog(runner, self.table, self.shared)
        found = seen(self.table, self.course, log.walked, log.start, log.stop)
        first = None if by_evidence is None else _colours(by_evidence)
        full = Counter(colours for colours in (first, *readings) if colours is not None and None not in colours)
        read, votes = full.most_common(1)[0] if full else (first or (None,) * len(truth), 0)
        known = first is not None and full[first] > 0
        if known and first is not None and not (votes >= AGREE and self._slip(read, truth) and not self._slip(first, truth)):
            read, votes = first, full[first]
        other = [i for i, (a, b) in enumerate(zip(read, truth, strict=True)) if a != b and a is not None]
        sure = 0.0
        if by_evidence is not None and read == first and other:
            sure = min(by_evidence.slots[i].confidence or 0.0 for i in other)
        raw = any(sensor_channel(self.table.columns, "red", sensor.name) for sensor in self.course.sensors)
        coded = any(sensor_channel(self.table.columns, "colour", sensor.name) for sensor in self.course.sensors)
        by_codes = coded and not (raw and self.palette.measured)
        fit = None if by_codes else fit_of(found, self.palette, truth, self.table.ranges)
        return Grounds(
            self.course, self.palette, truth, read, read == first, votes, sure, found, by_codes, fit, _lost(self.table)
        )  # fmt: skip

    def _slip(self, read: Colours, truth: Truth) -> bool:
        return slip_of(read, truth, self.course) is not Slip.NONE

    def _ran(self, strategy: Strategy) -> Runner:
        runner = Runner(self.shelf.plan(strategy, self.course, self.palette, self.table), self.shared)
        if not runner.lacks(self.table):
            runner.advance(self.table)
            runner.finish()
        return runner

    def _taken(self, strategy: Strategy) -> Taken | None:
        """What a strategy reads; None where it needs what this run does not have."""
        runner = self._ran(strategy)
        return runner.taken if runner.finished else None


def _colours(taken: Taken) -> Colours:
    return tuple(reading.colour for reading in taken.slots)


def _lost(table: SampleTable) -> float:
    """Share of lines that never came, by their running numbers."""
    return table.lost / (table.lost + table.rows) if table.rows else 0.0


def _spelt(strategy: Strategy) -> str:
    """A strategy as the command line takes it."""
    words = [f"{use.stage}.{key}={value}" for use in strategy.uses for key, value in use.settings.items()]
    return f"evidence:{','.join(words)}" if words else "evidence"
