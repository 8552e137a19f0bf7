"""What becomes of many runs under many settings of one strategy: compiled where numba is there, else slower, the same."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, ThreadPoolExecutor, wait
from dataclasses import dataclass, fields
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from telemetry.course import EMPTY, Course
from telemetry.errors import StrategyError
from telemetry.palette import Palette
from telemetry.reading.flat import kind_of
from telemetry.reading.needs import run_has
from telemetry.reading.plan import Plan, colour_names, make_plan
from telemetry.reading.strategy import Strategy
from telemetry.reading.sweep import DIVERGES, OPEN, ROW, Steps, Sweep, SweepSamples, SweepSettings
from telemetry.replay.evaluate.work import SentStrategy
from telemetry.replay.header import usable_columns
from telemetry.sample import IntColumn, whole_columns
from telemetry.tuning.plain_sweep import over_plain
from telemetry.tuning.runs import SavedRun

BLOCK = 2_000_000
"""Samples that are laid end to end at once, so that memory does not grow with the number of runs."""
STEPS_A_CALL = 50_000_000
"""So many sample steps at once, a fraction of a second, so that work can be followed and cancelled."""
HEAVY = {"decide": (800, 20), "weigh": (30, 3)}
"""Stages that work much: so many times the usual cost of a sample step, compiled and plain (rough, measured)."""
Tell = Callable[[float], None]
Header = tuple[Course, Palette, tuple[str, ...], tuple[str, ...]]
"""Course, palette, columns and colours: what a plan is made for."""


@dataclass(frozen=True, slots=True)
class Outcomes:
    """Arrays (runs, settings). ``counts``: whether the run says anything about that setting (not where the strategy lacks
    something in it, or would have stopped the robot); ``right``: every slot is the truth's; ``decided_ms``: when the last
    slot was decided, from the first sample, -1 where one stayed open; ``open_slots``: mask of the slots that are not right.
    """

    counts: NDArray[np.bool_]
    right: NDArray[np.bool_]
    decided_ms: IntColumn
    open_slots: IntColumn


class SettingsSweep:
    """Keeps what is made once for a kind of run. ``compiled`` None: where numba is installed. ``cores``: threads."""

    def __init__(self, compiled: bool | None = None, cores: int | None = None) -> None:
        self.compiled = _has_numba() if compiled is None else compiled
        self.cores = cores or _cores()
        self._sweeps: dict[Any, Sweep | None] = {}

    def outcomes(
        self, runs: Sequence[SavedRun], strategies: Sequence[Strategy], progress: Callable[[int], None] | None = None
    ) -> Outcomes:
        """Every run with every setting; all ``strategies`` have the same stages.

        ``progress``: told how many runs are done, from this thread; what it raises cancels the work.
        """
        shape = (len(runs), len(strategies))
        out = Outcomes(
            np.zeros(shape, np.bool_), np.zeros(shape, np.bool_), np.full(shape, -1, np.int64), np.zeros(shape, np.int64)
        )
        done = 0
        for header, members in _headers(runs):
            plans = [make_plan(one, *header) for one in strategies]
            for block in _blocks(members, runs):
                before, size = done, len(block)

                def tell(share: float, before: int = before, size: int = size) -> None:
                    if progress:
                        progress(before + int(share * size))

                self._block([runs[k] for k in block], plans, (block, out), tell)
                done += size
        return out

    def _block(
        self, runs: Sequence[SavedRun], plans: Sequence[Plan], into: tuple[Sequence[int], Outcomes], tell: Tell
    ) -> None:
        places, out = into
        steps = [steps_of(run, plans[0]) for run in runs]
        found = np.empty((len(runs), len(plans), 5), dtype=np.int64)
        sweep = self._sweep(plans[0]) if self.compiled else None
        if sweep is not None:
            self._compiled(sweep, steps, plans, (found, tell))
        else:
            for k, one in enumerate(steps):
                found[k] = over_plain([one], plans)[0]
                tell((k + 1) / len(steps))
        slots, alike = len(runs[0].truth), _alike(plans)
        for k, (place, run) in enumerate(zip(places, runs, strict=True)):
            lacking = _lacking(alike, run_has(run.table))
            diverges = found[k, :, DIVERGES] > 0
            out.counts[place] = ~lacking & ~diverges
            out.right[place] = out.counts[place] & (found[k, :, 0] == slots)
            t_us = np.asarray(run.table.columns["t_us"], dtype=np.int64)
            rows = found[k, :, ROW]
            out.decided_ms[place] = np.where(rows >= 0, (t_us[np.maximum(rows, 0)] - t_us[0]) // 1000, -1)
            out.open_slots[place] = found[k, :, OPEN]

    def _sweep(self, plan: Plan) -> Sweep | None:
        """The compiled loop for this kind of plan; None where a team's own logic cannot be compiled."""
        kind = kind_of(plan.chains)
        if kind not in self._sweeps:
            try:
                self._sweeps[kind] = Sweep(plan)
            except StrategyError:
                if plan.strategy.own is None:
                    raise
                self._sweeps[kind] = None
        return self._sweeps[kind]

    def _compiled(
        self, sweep: Sweep, steps: Sequence[Steps], plans: Sequence[Plan], into: tuple[IntColumn, Tell]
    ) -> None:
        found, tell = into
        bundles = sweep.starts(plans)
        threads = min(self.cores, len(steps))
        cuts = np.linspace(0, len(steps), threads + 1).round().astype(int).tolist()
        parts = [(low, high, sweep.samples(steps[low:high])) for low, high in pairwise(cuts) if high > low]
        if bundles and parts:
            sweep.make_ready(parts[0][2], bundles[0][1], lambda: tell(0.0))
        most = max(1, STEPS_A_CALL // cost_of(plans[0].strategy, compiled=True) // sum(run.rows for run in steps) * threads)

        def call(low: int, high: int, samples: SweepSamples, which: Sequence[int], settings: SweepSettings) -> None:
            found[low:high, which] = sweep.over(samples, settings)

        with ThreadPoolExecutor(threads) as pool:
            calls = [
                pool.submit(call, low, high, samples, which[first : first + most], settings.part(first, first + most))
                for which, settings in bundles for first in range(0, len(which), most) for low, high, samples in parts
            ]  # fmt: skip
            try:
                left = set(calls)
                while left:
                    done, left = wait(left, timeout=0.2, return_when=FIRST_COMPLETED)
                    for one in done:
                        one.result()
                    tell(1.0 - len(left) / len(calls))
            except BaseException:
                for one in calls:
                    one.cancel()
                raise


def outcomes_on(
    executor: Executor, runs: Sequence[SavedRun], strategies: Sequence[Strategy], parts: int | None = None
) -> Outcomes:
    """As ``SettingsSweep.outcomes``, by any executor: threads, processes, or a cluster that is already there.

    ``parts``: how many pieces the runs are handed out in (default: two a core). Each is worked at by one core.
    """
    sent = [SentStrategy.of(one) for one in strategies]
    cuts = np.linspace(0, len(runs), min(len(runs), parts or 2 * _cores()) + 1).round().astype(int).tolist()
    futures = [executor.submit(_outcomes_of, runs[low:high], sent) for low, high in pairwise(cuts) if high > low]
    found = [future.result() for future in futures]
    return Outcomes(*(np.concatenate([getattr(one, item.name) for one in found]) for item in fields(Outcomes)))


def _outcomes_of(runs: Sequence[SavedRun], sent: Sequence[SentStrategy]) -> Outcomes:
    return SettingsSweep(cores=1).outcomes(runs, [one.strategy() for one in sent])


def cost_of(strategy: Strategy, *, compiled: bool) -> int:
    """How many times the usual cost a sample step of this strategy takes, roughly."""
    return max((HEAVY.get(use.stage, (1, 1))[0 if compiled else 1] for use in strategy.uses), default=1)


def steps_of(run: SavedRun, plan: Plan) -> Steps:
    """A run as the portable core steps it."""
    table = run.table
    wholes = [
        whole_columns(table.columns, table.rows, sensor.name, table.colours, plan.names) for sensor in run.course.sensors
    ]
    truth = [0 if colour == EMPTY else plan.names.index(colour) for colour in run.truth]
    return Steps(wholes, plan.note_rows(table.notes), table.rows, truth)


def _headers(runs: Sequence[SavedRun]) -> Iterator[tuple[Header, list[int]]]:
    """What one plan serves, and which runs those are."""
    found: dict[object, tuple[Header, list[int]]] = {}
    for place, run in enumerate(runs):
        columns, _ = usable_columns(run.table, run.course)
        names = colour_names(run.course, run.palette, run.table.colours)
        key = (id(run.course), id(run.palette), columns, names)
        found.setdefault(key, ((run.course, run.palette, columns, names), []))[1].append(place)
    yield from found.values()


def _blocks(members: Sequence[int], runs: Sequence[SavedRun]) -> Iterator[list[int]]:
    block: list[int] = []
    size = 0
    for place in members:
        block.append(place)
        size += runs[place].table.rows
        if size >= BLOCK:
            yield block
            block, size = [], 0
    if block:
        yield block


def _alike(plans: Sequence[Plan]) -> list[tuple[Plan, list[int]]]:
    """One plan, and the places of all that need the same as it: what is asked of a run is asked once for them."""
    found: dict[object, tuple[Plan, list[int]]] = {}
    for place, plan in enumerate(plans):
        found.setdefault((plan.needs, tuple(plan.notes)), (plan, []))[1].append(place)
    return list(found.values())


def _lacking(alike: Sequence[tuple[Plan, list[int]]], has: frozenset[str]) -> NDArray[np.bool_]:
    """Which settings need what this run does not have."""
    out = np.zeros(sum(len(places) for _, places in alike), np.bool_)
    for plan, places in alike:
        out[places] = bool(plan.lacks(has))
    return out


def _has_numba() -> bool:
    from importlib.util import find_spec

    return find_spec("numba") is not None


def _cores() -> int:
    affinity = getattr(os, "sched_getaffinity", None)
    return len(affinity(0)) if affinity else os.cpu_count() or 1
