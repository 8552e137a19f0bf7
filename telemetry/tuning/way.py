"""How wrong a robot's distance is, from where markers stood out and where the course says they are; and how high its sensor
hung, from how bright they were beside the palette.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from telemetry.calibrate.outlook import fall_off
from telemetry.course import EMPTY
from telemetry.reading.load import load_strategy
from telemetry.replay.header import plan_for
from telemetry.replay.verdict.fit import fit_of
from telemetry.replay.verdict.seen import seen
from telemetry.replay.walk import Walk
from telemetry.sample import MISSING, IntColumn
from telemetry.tuning.evaluate import steps_of
from telemetry.tuning.runs import SavedRun
from telemetry.tuning.signals import Floats, distance_cm
from telemetry.tuning.spot import Rise

WALKER = "first-come"
"""Any strategy would do: only where the sensors are is asked."""
NEAR_CM = 0.8
"""A marker that stands out so near to a slot's place is taken for that slot's."""
MOST_SLIP, MOST_START_CM = 0.2, 8.0
LEAST_SPAN_CM = 10.0
"""Markers closer together say nothing about the distance."""


@dataclass(frozen=True, slots=True)
class LegFit:
    """One leg of a run: the distance told is ``(1 + slip) * true + start_cm``."""

    leg: int
    slip: float
    start_cm: float


def leg_fits(run: SavedRun, rises: Sequence[Rise]) -> list[LegFit]:
    """Every leg of the first sensor on which two markers or more stood out where slots or decoys are."""
    way = distance_cm(run.table)
    mine = [rise for rise in rises if rise.sensor == 0]
    if way is None or len(mine) < 2:
        return []
    legs, places = walked(run)[0]
    middles = {k: float(np.median([rise.middle_cm for rise in mine if rise.marker == k])) for k in {r.marker for r in mine}}
    rows = {k: int(np.searchsorted(way, middle)) for k, middle in middles.items()}
    found = []
    for leg in range(len(run.course.legs)):
        known = [decoy.at_cm for decoy in run.course.decoys if decoy.leg == leg and decoy.at_cm is not None]
        known += [
            slot.at_cm for slot, true in zip(run.course.slots, run.truth, strict=True)
            if slot.leg == leg and slot.sensor == 0 and not slot.unseen and slot.at_cm is not None and true != EMPTY
        ]  # fmt: skip
        told = [
            places[row] / 100.0 + middles[k] - way[row] for k, row in rows.items()
            if row < len(legs) and legs[row] == leg and places[row] != MISSING
        ]  # fmt: skip
        fit = _fitted(np.sort(told), np.sort(known))
        if fit is not None:
            found.append(LegFit(leg, *fit))
    return found


def _fitted(told: Floats, true: Floats) -> tuple[float, float] | None:
    """Of the lines through two markers the one near most of them and little off (as far off as can be counts as two markers
    fewer); then least squares through those that are near. None where no two markers are far enough apart.
    """
    best: float | None = None
    chosen = None
    for i, k in combinations(range(len(told)), 2):
        for a, b in combinations(range(len(true)), 2):
            if true[b] - true[a] < LEAST_SPAN_CM:
                continue
            scale = (told[k] - told[i]) / (true[b] - true[a])
            start = told[i] - scale * true[a]
            if abs(scale - 1.0) > MOST_SLIP or abs(start) > MOST_START_CM:
                continue
            off = np.abs(told[:, None] - (scale * true[None] + start))
            near = off.min(axis=1) <= NEAR_CM
            worth = near.sum() - 2.0 * (abs(scale - 1.0) / MOST_SLIP + abs(start) / MOST_START_CM)
            if best is None or worth > best:
                best, chosen = worth, (near, off.argmin(axis=1))
    if chosen is None:
        return None
    near, which = chosen
    scale, start = np.polyfit(true[which[near]], told[near], 1)
    return float(scale) - 1.0, float(start)


def times_as_high(run: SavedRun) -> float | None:
    """The sensor's height, as a multiple of that at which the palette was captured; None without a measured palette or raw
    channels. Light falls with its square, or as captures of the palette at several heights show.
    """
    if not run.palette.measured:
        return None
    where = walked(run)
    shown = seen(run.table, run.course, lambda sensor: where[sensor], 0, run.table.rows)
    fit = fit_of(shown, run.palette, run.truth, dict(run.table.ranges))
    power = max(0.5, fall_off(run.palette) or 2.0)
    return None if fit is None or not fit.level > 0.0 else float(fit.level ** (-1.0 / power))


def walked(run: SavedRun) -> list[tuple[IntColumn, IntColumn]]:
    """Of each sensor the leg and the place (0.1 mm, MISSING where not known) at every sample."""
    plan = plan_for(load_strategy(WALKER), run.course, run.palette, run.table)
    steps = steps_of(run, plan)
    walk = Walk(plan)
    walk.advance(steps.wholes, steps.notes, 0, run.table.rows)
    return [
        (np.array(legs, dtype=np.int64), np.array(places, dtype=np.int64))
        for legs, places in zip(walk.legs, walk.places, strict=True)
    ]
