"""Shared by the tests and the benchmark: palettes from still captures, runs through plans."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache

from telemetry.calibrate.build import build_palette
from telemetry.calibrate.capture import still_capture
from telemetry.calibrate.files import table_from_text
from telemetry.course import Course, Truth
from telemetry.palette import Palette
from telemetry.reading.chain import decode
from telemetry.reading.load import load_strategy
from telemetry.reading.needs import run_has
from telemetry.reading.plan import Plan, make_plan
from telemetry.sample import SampleTable, whole_columns
from telemetry.sources.synthetic.run import built_in_course, simulate, simulate_still

from .other_robot import LEVELS, NAMES, Bench

RAW = ("red", "green", "blue", "refl")


@dataclass(frozen=True)
class Case:
    """One simulated run with the palette to read it by."""

    level: str
    seed: int
    table: SampleTable
    course: Course
    truth: Truth
    palette: Palette

    def only(self, mode: str) -> Case:
        """``both``, ``raw`` or ``codes``: what the robot would have sent."""
        drop = {"both": (), "raw": ("colour",), "codes": RAW}[mode]
        columns = {name: column for name, column in self.table.columns.items() if name not in drop}
        table = SampleTable(columns=columns, rows=self.table.rows, colours=self.table.colours, notes=self.table.notes)
        return replace(self, table=table)


@cache
def bench(seed: int, palette: str | None = None, layout: str | None = None) -> tuple[Bench, Palette]:
    """A robot of the tests' own, and its palette from still captures."""
    made = Bench(seed, palette, layout)
    return made, build_palette([still_capture(name, made.still(name)) for name in ("none", *NAMES)])


@cache
def built_in_palette() -> Palette:
    """The built-in robot's palette, taken at the practice level."""
    names = ("none", *built_in_course().colours)
    stills = ((name, simulate_still(name, "practice", 777).data) for name in names)
    return build_palette([still_capture(name, table_from_text(data, name)) for name, data in stills])


def other_runs(first: int, count: int, levels: tuple[str, ...] = tuple(LEVELS)) -> Iterator[Case]:
    """``count`` robots of the tests' own, each once at every level."""
    for seed in range(first, first + count):
        made, palette = bench(seed)
        for level in levels:
            drive = made.drive(LEVELS[level], seed * 7 + 1)
            yield Case(level, seed, drive.table, drive.course, drive.truth, palette)


def built_in_runs(first: int, count: int, levels: tuple[str, ...] = tuple(LEVELS)) -> Iterator[Case]:
    """The built-in robot on Orchard Row."""
    for seed in range(first, first + count):
        for level in levels:
            run = simulate(level, seed)
            yield Case(level, seed, table_from_text(run.data, level), run.course, run.truth, built_in_palette())


class Reader:
    """Reads cases by a strategy; plans alike are made once."""

    def __init__(self, strategy: str) -> None:
        self.strategy = load_strategy(strategy)
        self._plans: dict[tuple[object, ...], tuple[Plan, object]] = {}

    def plan(self, case: Case, *, fresh: bool = True) -> Plan:
        """The plan for a case, set back; not ``fresh``: as the run left it."""
        has = run_has(case.table)
        columns = frozenset(name for name in has if name in case.table.columns)
        key = (id(case.palette), id(case.course), columns, case.table.colours)
        if key not in self._plans:
            plan = make_plan(self.strategy, case.course, case.palette, columns, case.table.colours)
            self._plans[key] = (plan, (case.palette, case.course))
        plan = self._plans[key][0]
        if fresh:
            plan.reset()
        return plan

    def applies(self, case: Case) -> bool:
        """Whether the run has what the strategy needs."""
        return not self.plan(case).lacks(run_has(case.table))

    def read(self, case: Case) -> tuple[tuple[str | None, ...], float]:
        """Colours a slot, and how sure the least sure of them is (0: not said)."""
        plan = self.plan(case)
        sensors = plan.course.sensors
        wholes = [
            whole_columns(case.table.columns, case.table.rows, s.name, case.table.colours, plan.names) for s in sensors
        ]
        events = [event for _, _, event in plan.run(wholes, plan.note_rows(case.table.notes), 0, case.table.rows)]
        events += [event for _, event in plan.finish()]
        colours: list[str | None] = [None] * len(case.course.slots)
        sure = [0.0] * len(colours)
        for event in events:
            decision = decode(event)
            if decision.slot is not None and decision.slot < len(colours):
                colours[decision.slot] = plan.names[decision.colour] if decision.colour else "empty"
                sure[decision.slot] = decision.sure / 10000
        return tuple(colours), min(sure)
