"""One run through all strategies: replay, score, explain."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec
from msgspec.structs import replace

from telemetry.course import NONE, Course, Group, GroupRule, Leg, Sensor, Slot, Truth
from telemetry.errors import SidelongError
from telemetry.findings import Finding, FindingKind
from telemetry.palette import Palette
from telemetry.reading.channel import is_clear
from telemetry.reading.needs import run_has
from telemetry.reading.strategy import Strategy
from telemetry.replay.beyond import Beyond
from telemetry.replay.case import EVERYTHING, Ask, Case
from telemetry.replay.doubts import doubts
from telemetry.replay.explain import explain
from telemetry.replay.header import PlanShelf, palette_for, plan_for
from telemetry.replay.log import ONLY_LABELS, RunLog
from telemetry.replay.readings import Taken, robots_own, taken_from, unknown_slots
from telemetry.replay.round_trip import beside_the_robot, driven_with
from telemetry.replay.runner import Runner, Shared, Stretch, between_restarts
from telemetry.replay.scoring.results import ROBOT, Result, Run
from telemetry.replay.scoring.score import Outcome, aligned, score, true_sequences
from telemetry.replay.verdict.of_run import verdict_of
from telemetry.replay.verdict_kind import Verdict
from telemetry.sample import IntColumn, SampleTable

OPEN_SLOTS = 29
"""Without a course: how many colours are taken before the rest counts as surplus."""


class Read(msgspec.Struct, frozen=True):
    """One strategy on one run, apart from all others. ``excused``: the result if the drive is held to have ended early.

    ``refutes``: it rightly read a slot where the drive, by its own distance, never was.
    """

    result: Result
    excused: Result
    refutes: bool


class Reads(msgspec.Struct, frozen=True):
    """One run: what each strategy read, by label; the robot's own; and the strategies that failed, with their errors."""

    of: dict[str, Read] = msgspec.field(default_factory=dict)
    robot: Read | None = None
    failed: dict[str, SidelongError] = msgspec.field(default_factory=dict)


def judge(
    case: Case, strategies: Mapping[str, Strategy], ask: Ask = EVERYTHING, *, shelf: PlanShelf | None = None
) -> tuple[list[Result], Result | None]:
    """Every strategy's result on one run, and the robot's own (None where it sent no readings).

    ``strategies``: the name each goes by -> the strategy. Without a course the colours taken are all surplus. ``shelf``:
    where plans are kept. Raises StrategyError where one cannot be built for this course, or stumbles.
    """
    shelf = shelf or PlanShelf()
    reads = read_case(case, strategies, why=ask.why, shelf=shelf)
    for error in reads.failed.values():
        raise error
    results = settled([*reads.of.values(), *([reads.robot] if reads.robot is not None else [])])
    robot = results.pop() if reads.robot is not None else None
    found = verdict_on(case, reads, shelf) if ask.verdict else None
    if found is not None:
        results = [replace(one, verdict=found) if one.was_wrong else one for one in results]
    return results, robot


def read_case(case: Case, strategies: Mapping[str, Strategy], *, why: bool, shelf: PlanShelf) -> Reads:
    """What each strategy reads; ``why``: what was read wrong is explained. One that fails does not stop the others."""
    one = _Judge(case, shelf, why)
    reads = Reads()
    results: dict[str, Result] = {}
    for label, strategy in strategies.items():
        try:
            results[label] = one.strategy(label, strategy)
        except SidelongError as error:
            reads.failed[label] = error.alone()
    beyond = Beyond(one.course, case.table, one.stretch, one.walked)
    robot = one.robot()
    for label, result in results.items():
        reads.of[label] = _read(result, beyond, case)
    return replace(reads, robot=_read(robot, beyond, case)) if robot is not None else reads


def settled(reads: Sequence[Read]) -> list[Result]:
    """The results as they count: a drive that ended early excuses, unless one of them read a slot beyond its end."""
    refuted = any(one.refutes for one in reads)
    return [one.result if refuted else one.excused for one in reads]


def verdict_on(case: Case, reads: Reads, shelf: PlanShelf) -> Verdict | None:
    """Whether sensor or logic failed; None where no strategy misread the run, or that cannot be told."""
    robot = [reads.robot] if reads.robot is not None else []
    results = settled([*reads.of.values(), *robot])[: len(reads.of)]
    if case.course is None or not case.table.rows or not any(one.was_wrong for one in results):
        return None
    return verdict_of(results, case.table, case.course, palette_of(case), shelf=shelf, shared=Shared())


def explain_against(case: Case, strategy: Strategy, wanted: Truth) -> tuple[Finding, ...]:
    """Why a strategy reads a run otherwise than ``wanted`` (one colour a slot): a finding a slot."""
    if case.course is None:
        return ()
    shared = Shared()
    runner = Runner(plan_for(strategy, case.course, palette_of(case), case.table), shared)
    runner.advance(case.table)
    runner.finish()
    return explain(case.course, wanted, runner.taken, RunLog(runner, case.table, shared), standing="was agreed")


def palette_of(case: Case) -> Palette:
    """The palette by which a run is read."""
    return palette_for(case.table, case.course, case.palette, case.palette_text, f"{case.name}, palette")


class _Judge:
    """What all results of one run share."""

    def __init__(self, case: Case, shelf: PlanShelf, why: bool) -> None:
        self.shelf, self.why = shelf, why
        self.table, self.truth = case.table, case.truth
        self.course_unknown = case.course is None
        self.course = course = case.course or _open_course(case.table)
        self.palette = palette_of(case)
        self.stretch = stretch = longest_stretch(case.table)
        remarks = (*_remarks(case, stretch), *doubts(case.table, case.course, self.palette))
        self.run = Run(
            case.name, course.name, tuple(slot.name for slot in course.slots), case.truth,
            _ms_between(case.table, stretch.start, stretch.stop - 1), case.simulated, remarks,
        )  # fmt: skip
        self.has = run_has(case.table)
        self.driven = driven_with(case.table.notes)
        self.standing = true_sequences(course, case.truth) if case.truth is not None else None
        self.shared = Shared(traced=why and case.truth is not None)

    def strategy(self, label: str, strategy: Strategy) -> Result:
        """One strategy's result."""
        runner = self._runner(strategy)
        result = self._result(label, runner)
        driven = self.driven
        remarks = beside_the_robot(driven, label, runner, self.table) if driven is not None else []
        if runner.plan.chose is not None and not is_clear(runner.plan.chose):
            remarks.append(runner.plan.chose)
        return replace(result, run=replace(self.run, remarks=(*self.run.remarks, *remarks))) if remarks else result

    def _runner(self, strategy: Strategy) -> Runner:
        columns, _ = self.shared.usable_columns(self.table, self.course)
        return Runner(self.shelf.plan(strategy, self.course, self.palette, self.table, columns), self.shared)

    def _result(self, label: str, runner: Runner) -> Result:
        need, lacking = runner.plan.lacking(self.has)
        if need in {"places", "stop"} and self.course_unknown:
            need, lacking = "course", f"{runner.plan.strategy.name} needs a course, which says what stands where"
        if lacking:
            lacks = Finding(FindingKind.LACKS, cause=need, numbers={"words": lacking})
            return Result(self.run, label, taken_from(self.course, ()), Outcome.NOT_APPLICABLE, None, None, (lacks,))
        runner.advance(self.table)
        runner.finish()
        taken, stretch = runner.taken, runner.counted
        if stretch.diverges is not None:
            after = _ms_between(self.table, stretch.start, stretch.diverges) / 1000
            stopped = Finding(FindingKind.WOULD_HAVE_STOPPED, numbers={"after_s": after, "at_cm": stretch.stop_cm})
            return Result(self.run, label, taken, Outcome.DIVERGES, None, None, (stopped,))
        decided = self.decided_ms(taken)
        if self.truth is None:
            return Result(self.run, label, taken, None, None, decided)
        beside = aligned(self.course, self.truth, taken, self.standing)
        points = score(self.course, self.truth, taken, beside)
        why_not: tuple[Finding, ...] = ()
        if self.why and not (points.correct and points.errors.total == 0):
            log = RunLog(runner, self.table, self.shared)
            why_not = explain(self.course, self.truth, taken, log, beside=beside)
        return Result(self.run, label, taken, Outcome.RIGHT if points.correct else Outcome.WRONG, points, decided, why_not)

    def robot(self) -> Result | None:
        """What the robot's own program said it read; None where it said nothing."""
        own = robots_own(self.course, self.table.notes)
        if own is None:
            return None
        decided = self.decided_ms(own)
        if self.truth is None:
            return Result(self.run, ROBOT, own, None, None, decided)
        beside = aligned(self.course, self.truth, own, self.standing)
        points = score(self.course, self.truth, own, beside)
        why = explain(self.course, self.truth, own, beside=beside)
        return Result(self.run, ROBOT, own, Outcome.RIGHT if points.correct else Outcome.WRONG, points, decided, why)

    def walked(self, sensor: int) -> tuple[IntColumn, IntColumn]:
        """The legs and places of a sensor, row by row."""
        runner = self._runner(ONLY_LABELS)
        runner.advance(self.table)
        return RunLog(runner, self.table, self.shared).walked(sensor)

    def decided_ms(self, taken: Taken) -> int | None:
        """When the last slot was decided, in ms from the first sample of the stretch; None where one stayed open."""
        rows = [reading.row for reading in taken.slots if reading.row is not None]
        if len(rows) < len(taken.slots) or not rows:
            return None
        return _ms_between(self.table, self.stretch.start, min(max(rows), self.table.rows - 1))


def _read(result: Result, beyond: Beyond, case: Case) -> Read:
    excused = _ended_early(result, beyond)
    refutes = beyond.is_refuted(result.taken, case.truth)
    if case.course is None:
        return Read(_without_slots(result), _without_slots(excused), refutes)
    return Read(result, excused, refutes)


def _ended_early(result: Result, beyond: Beyond) -> Result:
    """A run that ended early says nothing about who read right what there was to read."""
    early = beyond.finding
    if early is None:
        return result
    result = replace(result, run=replace(result.run, remarks=(*result.run.remarks, early)))
    if result.was_wrong and beyond.excuses(result.taken, result.run.truth):
        return replace(result, outcome=Outcome.NOT_APPLICABLE, score=None, decided_ms=None, findings=(early,))
    if result.outcome is Outcome.NOT_APPLICABLE:
        return replace(result, findings=(early, *result.findings))
    return result


def longest_stretch(table: SampleTable) -> Stretch:
    """The rows between two restarts of the robot that count, as a runner chooses them."""
    if not table.rows:
        return Stretch(0, 0)
    spans = [Stretch(start, stop) for start, stop in between_restarts(table.columns["boot"][: table.rows])]
    return max(spans, key=lambda one: (one.stop - one.start, one.start))


def _ms_between(table: SampleTable, first: int, last: int) -> int:
    if last < first or not table.rows:
        return 0
    t_us = table.columns["t_us"]
    return (int(t_us[last]) - int(t_us[first])) // 1000


def _remarks(case: Case, stretch: Stretch) -> tuple[Finding, ...]:
    """What a reader of the results must know about this run."""
    table = case.table
    out = [] if table.rows else [Finding(FindingKind.NO_ROWS, numbers={"rejected": len(table.rejected)})]
    if case.course is None:
        out.append(Finding(FindingKind.NO_COURSE))
    else:
        unknown = unknown_slots(case.course, table.notes)
        out += [Finding(FindingKind.NO_SUCH_SLOT, numbers={"name": name}) for name in unknown]
        out += [] if case.truth is not None else [Finding(FindingKind.NO_TRUTH)]
    if table.rows and stretch.stop - stretch.start < table.rows:
        counted = {"first": stretch.start + 1, "last": stretch.stop, "rows": table.rows}
        out.append(Finding(FindingKind.RESTARTED, numbers=counted))
    return tuple(out)


def _without_slots(result: Result) -> Result:
    return replace(result, run=replace(result.run, slots=()), taken=_all_surplus(result.taken))


def _open_course(table: SampleTable) -> Course:
    """A stand-in where no course is known: any colour, any number of times, on every sensor."""
    suffixes = dict.fromkeys(name.partition(".")[2] for name in table.columns if name.split(".")[0] in {"colour", "red"})
    sensors = tuple(Sensor(suffix) for suffix in suffixes) or (Sensor(),)
    named = tuple(colour for colour in table.colours if colour != NONE)
    colours = named or tuple(one for one in default_names() if one != NONE)
    group = Group("any", GroupRule.ANY, colours)
    slots = tuple(Slot(f"{i + 1}", 0, i % len(sensors), 0) for i in range(OPEN_SLOTS))
    return Course("", (Leg("way"),), sensors, (group,), slots)


def default_names() -> tuple[str, ...]:
    """The colours that the built-in palette knows."""
    from telemetry.palette_default import TYPICAL

    return tuple(TYPICAL)


def _all_surplus(taken: Taken) -> Taken:
    readings = [replace(one, slot=None) for one in (*taken.slots, *taken.surplus) if one.colour is not None]
    return Taken((), tuple(sorted(readings, key=lambda one: -1 if one.row is None else one.row)))
