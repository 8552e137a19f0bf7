"""One run through all strategies: replay, score, explain."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from telemetry.course import NONE, Course, Group, GroupRule, Leg, Sensor, Slot, Truth
from telemetry.palette import Palette
from telemetry.reading.needs import run_has
from telemetry.reading.strategy import Strategy
from telemetry.replay.beyond import Beyond
from telemetry.replay.explain import explain
from telemetry.replay.header import PlanShelf, palette_for
from telemetry.replay.limit.verdict_run import with_verdict
from telemetry.replay.log import ONLY_LABELS, RunLog
from telemetry.replay.readings import Taken, robots_own, taken_from
from telemetry.replay.runner import Runner, Shared, Stretch, between_restarts
from telemetry.replay.scoring.results import ROBOT, Result, Run
from telemetry.replay.scoring.score import Outcome, aligned, score
from telemetry.sample import IntColumn, Table

OPEN_SLOTS = 29
"""Without a course: how many colours are taken before the rest counts as surplus."""


def judge(
    name: str,
    table: Table,
    course: Course | None,
    truth: Truth | None,
    strategies: Mapping[str, Strategy],
    *,
    palette: Palette | None = None,
    palette_text: str = "",
    simulated: bool = False,
    reasons: bool = True,
    verdicts: bool | None = None,
    shelf: PlanShelf | None = None,
) -> tuple[list[Result], Result | None]:
    """Every strategy's result on one run, and the robot's own (None where it sent no readings).

    ``strategies``: the name each goes by -> the strategy. Without a course the colours taken are all surplus. ``reasons``:
    whether runs that were read wrong are explained, which takes a second, slower pass. ``verdicts``: whether it is asked
    of a misread run if the sensor or the logic failed, which takes much longer (default: as ``reasons``). ``shelf``: where
    plans are kept.
    """
    where = course or _open_course(table)
    colours = palette_for(table, course, palette, palette_text, f"{name}, palette")
    stretch = longest_stretch(table)
    remarks = (*_remarks(table, course, truth, stretch), *_unknown_colours(course, colours))
    run = Run(
        name, course.name if course else "", tuple(slot.name for slot in where.slots), truth,
        _ms_between(table, stretch.start, stretch.stop - 1), simulated, remarks,
    )  # fmt: skip
    one = _Judge(run, where, table, stretch, reasons, shelf or PlanShelf())
    results = [one.strategy(label, strategy, colours) for label, strategy in strategies.items()]
    robot = one.robot()
    beyond = Beyond(where, table, stretch, lambda sensor: one.walked(sensor, colours))
    if not any(beyond.is_refuted(each.taken, truth) for each in (*results, *([robot] if robot is not None else []))):
        results = [_ended_early(result, beyond) for result in results]
        robot = None if robot is None else _ended_early(robot, beyond)
    if course is not None and (reasons if verdicts is None else verdicts) and table.rows:
        results = with_verdict(results, table, course, colours, shelf=one.shelf, shared=one.shared)
    if course is None:
        results = [_without_slots(result) for result in results]
        robot = None if robot is None else _without_slots(robot)
    return results, robot


class _Judge:
    """What all results of one run share."""

    def __init__(  # noqa: PLR0917 (private, and called once)
        self, run: Run, course: Course, table: Table, stretch: Stretch, reasons: bool, shelf: PlanShelf
    ) -> None:
        self.shelf = shelf
        self.run, self.course, self.table, self.truth = run, course, table, run.truth
        self.stretch, self.reasons = stretch, reasons
        self.has = run_has(table)
        self.shared = Shared()

    def strategy(self, label: str, strategy: Strategy, palette: Palette) -> Result:
        """One strategy's result."""
        runner = Runner(self.shelf.plan(strategy, self.course, palette, self.table), self.shared)
        lacking = runner.plan.lacks(self.has)
        if lacking:
            return Result(self.run, label, taken_from(self.course, ()), Outcome.NOT_APPLICABLE, None, None, (lacking,))
        runner.advance(self.table)
        runner.finish()
        taken, stretch = runner.taken, runner.counted
        if stretch.diverges is not None:
            after = _ms_between(self.table, stretch.start, stretch.diverges) / 1000
            at = "" if stretch.stop_cm is None else f" at {stretch.stop_cm:.1f} cm"
            why = f"{after:.2f} s into the run this strategy would have stopped the robot{at}, which drove on"
            return Result(self.run, label, taken, Outcome.DIVERGES, None, None, (why,))
        decided = self.decided_ms(taken)
        if self.truth is None:
            return Result(self.run, label, taken, None, None, decided)
        beside = aligned(self.course, self.truth, taken)
        points = score(self.course, self.truth, taken, beside)
        why_not: tuple[str, ...] = ()
        if self.reasons and not (points.correct and points.errors.total == 0):
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
        points = score(self.course, self.truth, own)
        why = explain(self.course, self.truth, own)
        return Result(self.run, ROBOT, own, Outcome.RIGHT if points.correct else Outcome.WRONG, points, decided, why)

    def walked(self, sensor: int, palette: Palette) -> tuple[IntColumn, IntColumn]:
        """The legs and places of a sensor, row by row."""
        runner = Runner(self.shelf.plan(ONLY_LABELS, self.course, palette, self.table), self.shared)
        runner.advance(self.table)
        return RunLog(runner, self.table, self.shared).walked(sensor)

    def decided_ms(self, taken: Taken) -> int | None:
        """When the last slot was decided, in ms from the first sample of the stretch; None where one stayed open."""
        rows = [reading.row for reading in taken.slots if reading.row is not None]
        if len(rows) < len(taken.slots) or not rows:
            return None
        return _ms_between(self.table, self.stretch.start, min(max(rows), self.table.rows - 1))


def _ended_early(result: Result, beyond: Beyond) -> Result:
    """A run that ended early says nothing about who read right what there was to read."""
    if not beyond.slots:
        return result
    result = replace(result, run=replace(result.run, remarks=(*result.run.remarks, beyond.words)))
    if result.outcome is Outcome.WRONG and beyond.excuses(result.taken, result.run.truth):
        return replace(result, outcome=Outcome.NOT_APPLICABLE, score=None, decided_ms=None, why=(beyond.words,))
    if result.outcome is Outcome.NOT_APPLICABLE:
        return replace(result, why=(beyond.words, *result.why))
    return result


def longest_stretch(table: Table) -> Stretch:
    """The rows between two restarts of the robot that count, as a runner chooses them."""
    if not table.rows:
        return Stretch(0, 0)
    spans = [Stretch(start, stop) for start, stop in between_restarts(table.columns["boot"][: table.rows])]
    return max(spans, key=lambda one: (one.stop - one.start, one.start))


def _ms_between(table: Table, first: int, last: int) -> int:
    if last < first or not table.rows:
        return 0
    t_us = table.columns["t_us"]
    return (int(t_us[last]) - int(t_us[first])) // 1000


def _remarks(table: Table, course: Course | None, truth: Truth | None, stretch: Stretch) -> tuple[str, ...]:
    """What a reader of the results must know about this run."""
    out = []
    if not table.rows:
        out.append("the recording holds no sample")
    if course is None:
        out.append("no course is known: what was read is listed as it came")
    elif truth is None:
        out.append("what really stood there is not known: readings are listed, nothing is judged")
    if table.rows and stretch.stop - stretch.start < table.rows:
        rows = f"samples {stretch.start + 1} to {stretch.stop} of {table.rows}"
        out.append(f"the robot restarted during this run; the longest stretch counts, {rows}")
    return tuple(out)


def _unknown_colours(course: Course | None, palette: Palette) -> tuple[str, ...]:
    """Colours of the course that a measured palette does not have: from raw channels they cannot be read."""
    if course is None or not palette.measured:
        return ()
    missing = [colour for colour in course.colours if palette.get(colour) is None]
    if not missing:
        return ()
    return (f"the palette does not know {', '.join(missing)}: calibrate it, or give a colour the same name everywhere",)


def _without_slots(result: Result) -> Result:
    return replace(result, run=replace(result.run, slots=()), taken=_all_surplus(result.taken))


def _open_course(table: Table) -> Course:
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
