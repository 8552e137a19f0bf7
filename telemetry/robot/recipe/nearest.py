"""For a strategy that cannot be said in blocks: the nearest that can, and what that costs on recorded runs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from telemetry.errors import StrategyError
from telemetry.palette import Palette
from telemetry.reading.catalogue import AUTO
from telemetry.reading.plan import Plan, make_plan
from telemetry.reading.strategies import STRATEGIES
from telemetry.reading.strategy import Strategy, Use
from telemetry.robot.order import ReaderOrder
from telemetry.robot.recipe.write import why_not


@dataclass(frozen=True, slots=True)
class NearestPlan:
    """``plan``: what can be said. ``why``: why the wanted strategy cannot. ``cost``: in one sentence."""

    plan: Plan
    why: str
    cost: str


def nearest(order: ReaderOrder, runs: Sequence[Path] = ()) -> NearestPlan:
    """Of the named strategies that can be said, the one that reads most of ``runs`` right; without runs, the one with most
    stages in common. Raises StrategyError where none can be said for this course.
    """
    said = {name: plan for name, strategy in STRATEGIES.items() if (plan := _plan(order, strategy)) and not why_not(plan)}
    if not said:
        todo = "The sensor must report colours itself."
        raise StrategyError("no strategy can be said in blocks for this robot", todo=todo)
    why = why_not(order.plan)
    if order.strategy.name in said and "colour" in order.plan.layouts[0].channels:
        return NearestPlan(said[order.strategy.name], why, _by_codes(order.palette, order.course.colours))
    mine = {use.stage for use in order.strategy.uses}
    common = {name: len(mine & {use.stage for use in STRATEGIES[name].uses}) + (name == "map-and-list") for name in said}
    if not runs:
        best = max(said, key=lambda name: common[name])
        return NearestPlan(said[best], why, "what that costs is not known: name recorded runs with --cost-on")
    given = order.palette if order.palette.measured else None
    asked = {name: STRATEGIES[name] for name in said} | {order.strategy.name: order.strategy}
    right, judged = right_of(asked, runs, given)
    best = max(said, key=lambda name: (right.get(name, 0), common[name]))
    wanted = right.get(order.strategy.name, 0)
    words = f"of {judged} recorded runs '{order.strategy.name}' reads {wanted} right, '{best}' {right.get(best, 0)}"
    return NearestPlan(said[best], why, words)


def _by_codes(palette: Palette, colours: Sequence[str]) -> str:
    """Blocks know the sensor's colours only: which of the course's it does not name so, by a measured palette."""
    usual = {one.name: max(one.codes, key=one.codes.__getitem__) for one in palette.colours if one.codes}
    others = [f"'{usual[name]}' over {name}" for name in colours if name in usual and usual[name] != name]
    if not palette.measured or not others:
        return "it goes by the sensor's own colours, as blocks can"
    return f"by your palette the sensor says {', '.join(others)}: expect these to be read wrong"


def _plan(order: ReaderOrder, strategy: Strategy) -> Plan | None:
    channels = list(order.plan.layouts[0].channels)
    if "colour" in channels:  # blocks know the sensor's colours, not its raw channels
        strategy = replace(strategy, uses=tuple(Use("code") if use.stage == AUTO else use for use in strategy.uses))
    try:
        plan = make_plan(strategy, order.course, order.palette, channels, order.plan.names)
    except StrategyError:
        return None
    return None if plan.lacks(channels, going=True) else plan


def right_of(
    strategies: Mapping[str, Strategy], runs: Sequence[Path], palette: Palette | None = None
) -> tuple[Mapping[str, int], int]:
    """How many of the runs each strategy reads right, and of how many the truth is known. Raises RecordingError.

    ``palette`` stands in for those of the recordings.
    """
    from telemetry.recording.load import load
    from telemetry.replay.header import palette_for, plan_for
    from telemetry.replay.runner import Runner
    from telemetry.replay.scoring.score import score

    right = dict.fromkeys(strategies, 0)
    judged = 0
    for path in runs:
        recording = load(path)
        if recording.truth is None or recording.course is None:
            continue
        judged += 1
        looks = palette_for(recording.table, recording.course, palette, recording.meta.palette)
        for name, strategy in strategies.items():
            runner = Runner(plan_for(strategy, recording.course, looks, recording.table))
            if runner.lacks(recording.table):
                continue
            runner.advance(recording.table)
            runner.finish()
            right[name] += score(recording.course, recording.truth, runner.taken).correct
    return right, judged
