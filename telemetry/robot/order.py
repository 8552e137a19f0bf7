"""What is to go onto the robot: a strategy made ready for a course, a palette and the columns that a robot sends."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from telemetry.course import Course
from telemetry.errors import StrategyError
from telemetry.palette import Palette
from telemetry.reading.fingerprint import fingerprint
from telemetry.reading.plan import Plan
from telemetry.reading.strategy import Strategy
from telemetry.recording.load import load
from telemetry.replay.header import palette_for, plan_for
from telemetry.sample import Columns, SampleTable
from telemetry.stream.columns import named_columns

RANGES: Mapping[str, tuple[float, float]] = {"red": (4, 1023), "green": (4, 1023), "blue": (4, 1023), "refl": (0, 100)}
"""Black level and full scale that the built-in palette is scaled to where neither a palette nor a run says them."""


@dataclass(frozen=True, slots=True)
class ReaderOrder:
    """``columns`` as a header has them, ``t/ms,colour,dist/cm``. ``like``: the recording it was made after, or empty.

    ``fingerprint`` says which logic it is. ``simulated``: the palette comes from the built-in robot. ``granted``: the ranges
    of the channels that nobody told and the logic rests on, in words; empty where it rests on none.
    """

    plan: Plan
    palette: Palette
    columns: str
    like: str
    simulated: bool
    granted: str = ""

    @property
    def strategy(self) -> Strategy:
        return self.plan.strategy

    @property
    def course(self) -> Course:
        return self.plan.course

    @property
    def fingerprint(self) -> str:
        return fingerprint(self.plan)


def order_for_columns(strategy: Strategy, course: Course, columns: str, palette: Palette | None = None) -> ReaderOrder:
    """For a robot that sends these ``columns``. Raises StreamError for columns that cannot be, StrategyError."""
    header = named_columns(columns)
    empty: Columns = {name: np.empty(0, dtype=np.int64) for name in ("t_us", "boot", *header.names)}
    table = SampleTable(columns=empty, ranges=dict(RANGES))
    order = _order(strategy, course, table, palette_for(table, course, palette), columns)
    if palette is None:
        # Where another range makes another logic, this one rests on what nobody has said.
        wider = SampleTable(columns=empty, ranges={name: (low, 4 * high) for name, (low, high) in RANGES.items()})
        if fingerprint(plan_for(strategy, course, palette_for(wider, course, None), wider)) != order.fingerprint:
            sent = {name.partition(".")[0] for name in header.names}
            told = [f"{name} {low:g} to {high:g}" for name, (low, high) in RANGES.items() if name in sent]
            return replace(order, granted=", ".join(told))
    return order


def order_like(strategy: Strategy, course: Course, path: Path, palette: Palette | None = None) -> ReaderOrder:
    """For a robot that sends what it sent in a recording. Raises RecordingError, StrategyError."""
    recording = load(path)
    columns = ",".join(_headings(recording.table))
    looks = palette_for(recording.table, course, palette, recording.meta.palette, f"{path}, palette")
    return _order(strategy, course, recording.table, looks, columns, path.name)


def _order(  # noqa: PLR0917 (private)
    strategy: Strategy, course: Course, table: SampleTable, palette: Palette, columns: str, like: str = ""
) -> ReaderOrder:
    plan = plan_for(strategy, course, palette, table)
    lacking = plan.lacks(table.columns, going=True)
    if lacking:
        todo = "Choose another strategy, or let the robot send it."
        if "the course does not say where" in lacking:
            todo = "Give every slot its at_cm in the course, or choose another strategy."
        raise StrategyError(lacking, where=like or "--columns", todo=todo)
    simulated = "simulated" in " ".join((palette.made, palette.name, *palette.remarks)).lower()
    return ReaderOrder(plan, palette, columns, like, simulated)


def _headings(table: SampleTable) -> list[str]:
    """The columns of a recording as a header names them, in the units they are kept in."""
    units = {"refl": "%", "heading": "deg", "dist": "cm", "speed": "cm/s", "battery": "V", "loop": "ms"}
    out = ["t/ms"]
    for name in table.columns:
        if name not in {"t_us", "arrival_us", "boot"}:
            unit = units.get(name.partition(".")[0])
            out.append(f"{name}/{unit}" if unit else name)
    return out
