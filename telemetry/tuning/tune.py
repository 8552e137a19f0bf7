"""Which settings read every saved run right, how far each could be off, and what is to be expected of runs not yet seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from telemetry.errors import StrategyError
from telemetry.reading.needs import run_has
from telemetry.reading.plan import make_plan
from telemetry.reading.strategy import Strategy
from telemetry.replay.header import usable_columns
from telemetry.tuning.copies import copied_from
from telemetry.tuning.evaluate import Outcomes, SettingsSweep, cost_of
from telemetry.tuning.gains import Gains, earlier_read, more_margin, more_right
from telemetry.tuning.region import Scores, choose, depth_of
from telemetry.tuning.runs import SavedRun
from telemetry.tuning.search import searched
from telemetry.tuning.space import Axis, Point, grid, size, usual_axes
from telemetry.tuning.tries import Progress, Tries

STEPS_COMPILED = 4_000_000_000
STEPS_PLAIN = 60_000_000
"""Sample steps that one sweep may take: under a minute on two cores."""
MOST_SETTINGS = 20_000
LEAST_VALUES = 5
"""Fewer values of a setting than this show no region; rather leave out the setting that tells least."""


@dataclass(frozen=True, slots=True)
class Trial:
    """Settings and what became of them. ``left_out``: of the runs judged by settings chosen without them, those right.

    ``altered``: share of altered copies read right, None where none were made; ``decided_ms``: median.
    """

    settings: Point
    right: tuple[str, ...]
    left_out: int | None
    decided_ms: int | None
    altered: float | None = None

    @property
    def correct(self) -> int:
        """How many runs were right."""
        return len(self.right)


@dataclass(frozen=True, slots=True)
class SettingProfile:
    """One setting moved, all others left: ``right`` (one a value) of the runs, and the median time of deciding."""

    axis: Axis
    right: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Tuning:
    """What tune found. ``judged``: runs that counted, by name; ``apart``: (run, why) of those that did not.

    ``best``: the middle of what works; ``gains``: what it gains over ``now`` by more than chance. ``recommended`` is
    ``best`` where it gains anything, else ``now``.

    ``lines``: each setting moved alone from today's, the most telling first; ``axes`` and ``map`` (shape of the axes): runs
    right over the grid, None after a search. ``works``: setting -> (from, to) around the recommended. ``folds``: what was
    left out in turn ('day', 'place' or 'run') and how often; None where there was nothing to leave out.
    """

    strategy: Strategy
    judged: tuple[str, ...]
    apart: tuple[tuple[str, str], ...]
    now: Trial
    best: Trial
    gains: Gains
    recommended: Trial
    works: dict[str, tuple[int, int]]
    least: int
    lines: tuple[SettingProfile, ...]
    axes: tuple[Axis, ...]
    map: NDArray[np.int64] | None
    folds: tuple[str, int] | None
    tried: int
    searched: bool
    simulated: bool


def tune(
    runs: Sequence[SavedRun],
    strategy: Strategy,
    *,
    axes: Sequence[Axis] = (),
    copies: Sequence[SavedRun] = (),
    evaluator: SettingsSweep | None = None,
    trials: int = 2000,
    progress: Progress | None = None,
) -> Tuning:
    """Sweep the settings over ``runs`` and recommend. ``axes``: what to sweep; without any, what tells most.

    ``copies``: altered copies of the runs, which break ties between settings that read as many runs right. Raises
    StrategyError where the strategy cannot be judged on any run, UsageError where there is nothing to tune, and
    MissingPartError where the space is too large for a grid and Optuna is not installed.
    """
    judge = evaluator or SettingsSweep()
    tell = progress or _silent
    wanted = list(axes) or usual_axes(strategy)
    counts = judge.outcomes(runs, [strategy]).counts[:, 0]
    counted = [run for run, said in zip(runs, counts, strict=True) if said]
    apart = tuple((run.name, _why_apart(run, strategy)) for run, said in zip(runs, counts, strict=True) if not said)
    if not counted:
        raise StrategyError(
            f"no run says anything about strategy '{strategy.name}': {apart[0][1]}", where=apart[0][0],
            todo="Record runs with what it needs, or tune another strategy.",
        )  # fmt: skip
    heavy = cost_of(strategy, compiled=judge.compiled)
    most = 400 if heavy == 1 else 40
    if copies:
        said_of = judge.outcomes(copies, [strategy]).counts[:, 0]
        copies = [copy for copy, said in zip(copies, said_of, strict=True) if said]
    tries, more = Tries(judge, counted, strategy, tell, most), Tries(judge, copies, strategy, tell, most)
    lines = _lines(tries, wanted)
    samples = sum(run.table.rows for run in (*counted, *copies))
    budget = max(64, (STEPS_COMPILED if judge.compiled else STEPS_PLAIN) // heavy // max(1, samples))
    swept = list(wanted) if axes else _telling(lines, min(budget, MOST_SETTINGS))
    search = size(swept) > min(budget, 10 * MOST_SETTINGS)
    points = searched(tries, swept, trials) if search else list(grid(swept))
    shape = (len(points),) if search else tuple(len(axis.values) for axis in swept)
    ordered = (False,) if search else tuple(not axis.is_switch for axis in swept)
    found = tries.outcomes(points, "swept")
    altered = more.outcomes(points, "altered copies swept").right.mean(axis=0) if copies else np.zeros(len(points))
    scores = Scores(found.right, altered, _decided(found), _far(points, swept))
    choice = choose(scores, shape, ordered)
    middle, works = tries.middle(points[choice.place], swept, choice.least)
    folds, unseen = _left_out(counted, scores, shape, ordered)
    now = {axis.name: axis.now for axis in swept}
    both = tries.outcomes([now, middle])
    of_copies = more.outcomes([now, middle]).right if copies else None
    gains = _gains(both, unseen, of_copies, copies, counted)
    if not copies and not search:
        gains = replace(gains, room=_more_room(found.right.sum(axis=0), points, (now, choice.place), (shape, ordered)))
    left = (None if folds is None else int(both.right[:, 0].sum()), None if unseen is None else int(unseen.sum()))
    shares = [None, None] if of_copies is None else of_copies.mean(axis=0).tolist()
    today_trial, best = (
        Trial(place, _right(counted, both, k), left[k], _median(both, k), shares[k]) for k, place in enumerate((now, middle))
    )
    keeps = not gains.any and bool(today_trial.right)
    if keeps:
        works = tries.spans(now, swept, today_trial.correct)
    return Tuning(
        strategy=strategy, judged=tuple(run.name for run in counted), apart=apart, now=today_trial, best=best, gains=gains,
        recommended=today_trial if keeps else best, works=works, least=today_trial.correct if keeps else choice.least,
        lines=tuple(lines), axes=tuple(swept), map=None if search else found.right.sum(axis=0).reshape(shape), folds=folds,
        tried=len(points), searched=search, simulated=any(run.simulated for run in runs),
    )  # fmt: skip


def _silent(what: str, done: int, of: int) -> None:
    """Nobody listens."""


def _lines(tries: Tries, axes: Sequence[Axis]) -> list[SettingProfile]:
    """Each setting moved alone, the one that changes most first."""
    lines = []
    for number, axis in enumerate(axes, start=1):
        few = axis.thinned(tries.most)
        lines.append(
            SettingProfile(few, tuple(int(value) for value in tries.right([{axis.name: value} for value in few.values])))
        )
        tries.tell("settings moved alone", number, len(axes))
    return sorted(lines, key=lambda line: min(line.right) - max(line.right))


def _telling(lines: Sequence[SettingProfile], most: int) -> list[Axis]:
    """The settings that change anything, as many as the grid has room for, with fewer values where needed; at least one."""
    chosen = [line.axis for line in lines if max(line.right) > min(line.right)] or [lines[0].axis]
    while len(chosen) > 1:
        each = int(most ** (1 / len(chosen)))
        if each >= LEAST_VALUES or all(len(axis.values) <= each for axis in chosen):
            return [axis.thinned(each) for axis in chosen]
        chosen.pop()
    return chosen


def folds_of(runs: Sequence[SavedRun]) -> tuple[str, list[NDArray[np.int64]]] | None:
    """What is left out in turn: days, else places, else single runs; None for one run only."""
    for word, keys in (("day", [run.day for run in runs]), ("place", [run.place for run in runs])):
        if len(set(keys)) > 1:
            return word, [np.array([k for k, key in enumerate(keys) if key == one]) for one in sorted(set(keys))]
    return ("run", [np.array([k]) for k in range(len(runs))]) if len(runs) > 1 else None


def _left_out(
    runs: Sequence[SavedRun], scores: Scores, shape: tuple[int, ...], ordered: tuple[bool, ...]
) -> tuple[tuple[str, int] | None, NDArray[np.bool_] | None]:
    """Choose without each fold; (runs,) whether that choice reads those of the fold right."""
    folds = folds_of(runs)
    if folds is None:
        return None, None
    word, parts = folds
    right = np.zeros(len(runs), np.bool_)
    for part in parts:
        rest = np.delete(scores.right, part, axis=0)
        chosen = choose(Scores(rest, scores.altered, scores.decided, scores.far), shape, ordered).place
        right[part] = scores.right[part, chosen]
    return (word, len(parts)), right


def _gains(
    both: Outcomes, unseen: NDArray[np.bool_] | None, of_copies: NDArray[np.bool_] | None, copies: Sequence[SavedRun],
    runs: Sequence[SavedRun],
) -> Gains:  # fmt: skip
    """Of the second settings of ``both`` over the first. ``unseen``: runs right by settings chosen without them."""
    number = {run.name: k for k, run in enumerate(runs)}
    of = np.array([number.get(copied_from(copy.name), -1) for copy in copies], dtype=np.int64)
    times = np.where(both.right & (both.decided_ms >= 0), both.decided_ms, np.nan)
    return Gains(
        runs=more_right(both.right[:, 0], both.right[:, 1] if unseen is None else unseen),
        margin=of_copies is not None and more_margin(of_copies[:, 0], of_copies[:, 1], of),
        earlier=earlier_read(times[:, 0], times[:, 1]),
    )


def _more_room(
    total: NDArray[np.int64], points: Sequence[Point], both: tuple[Point, int],
    grid_of: tuple[tuple[int, ...], tuple[bool, ...]],
) -> bool:  # fmt: skip
    """Whether the second is twice as far as today's settings from where fewer runs are right than today."""
    now, place = both
    today = next((k for k, point in enumerate(points) if point == now), None)
    if today is None:
        return False
    shape, ordered = grid_of
    depth = depth_of((total >= total[today]).reshape(shape), ordered).ravel()
    return int(depth[place]) >= 2 * int(depth[today])


def _right(runs: Sequence[SavedRun], found: Outcomes, k: int) -> tuple[str, ...]:
    return tuple(run.name for run, good in zip(runs, found.right[:, k], strict=True) if good)


def _decided(found: Outcomes) -> NDArray[np.float64]:
    """Of each setting the median time at which right runs were decided, in 50 ms; infinite where none was."""
    times = np.where(found.right & (found.decided_ms >= 0), found.decided_ms, np.nan)
    out = np.full(times.shape[1], np.inf)
    some = np.isfinite(times).any(axis=0)
    out[some] = np.nanmedian(times[:, some], axis=0) // 50
    return out


def _median(found: Outcomes, k: int) -> int | None:
    times = found.decided_ms[found.right[:, k] & (found.decided_ms[:, k] >= 0), k]
    return int(np.median(times)) if len(times) else None


def _far(points: Sequence[Point], axes: Sequence[Axis]) -> NDArray[np.float64]:
    """How far each point is from today's settings, in parts of what was swept."""
    scale = {axis.name: max(1, axis.values[-1] - axis.values[0]) for axis in axes}
    now = {axis.name: axis.now for axis in axes}
    return np.array([sum(abs(value - now[name]) / scale[name] for name, value in point.items()) for point in points])


def _why_apart(run: SavedRun, strategy: Strategy) -> str:
    plan = make_plan(strategy, run.course, run.palette, usable_columns(run.table, run.course)[0], run.table.colours)
    return plan.lacks(run_has(run.table)) or "it would have stopped the robot, which drove on"
