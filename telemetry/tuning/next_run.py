"""Which layout to set up next: the one that tells most about what is still open, by driving the fitted robot on many.

What a run tells is its expected information (Lindley, Annals of Mathematical Statistics 27, 1956): how many bits its
outcome, right or wrong, says on the average about which of the tied strategies it came from. With one strategy alone: about
whether it reads such a layout right at all. All is simulated, by the built-in robot made like the recorded one.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from telemetry.course import Truth
from telemetry.course.lot import draw_layout
from telemetry.errors import UsageError
from telemetry.reading.strategy import Strategy
from telemetry.sources.synthetic.physics import Physics
from telemetry.tuning.evaluate import SettingsSweep
from telemetry.tuning.like import driven_like, physics_like
from telemetry.tuning.robot_model import fit_robot
from telemetry.tuning.runs import SavedRun
from telemetry.tuning.tries import Progress

LAYOUTS = 40
SEEDS = 8
FINALISTS = 5
FRESH = 1000
"""The best few of many are flattered, so they are driven again, on seeds from here on."""
TELLS = 0.02
"""Bits; less than this is nothing."""
FASTER = (1.0, 1.25, 1.6, 2.0, 2.6)
"""Where nothing fails as it is driven, the run is tried faster, until something does."""
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ProposedLayout:
    """``bits``: expected information. ``right``: strategy -> share of simulated runs right. ``slots``: strategy -> the slot
    that fails most often there, empty where none does.
    """

    truth: Truth
    bits: float
    right: Mapping[str, float]
    slots: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class NextRun:
    """``best``: what to set up, as driven on fresh seeds; ``by_lot``: mean bits of
    a layout drawn by lot; ``faster``: so many times the recorded speed.
    """

    best: ProposedLayout
    by_lot: float
    layouts: int
    faster: float
    speed_cm_s: float | None


def next_run(
    runs: Sequence[SavedRun],
    strategies: Mapping[str, Strategy],
    *,
    evaluator: SettingsSweep | None = None,
    progress: Progress | None = None,
    layouts: int = LAYOUTS,
    seed: int = 0,
) -> NextRun:
    """The layout on ``runs``' course (of several the first) that tells most about ``strategies``; the same again each time.

    Raises UsageError where the course allows only one layout, or no strategy is given.
    """
    if not strategies:
        raise UsageError("there is no strategy to tell anything about", todo="Name one or more with --strategy.")
    course = runs[0].course
    mine = [run for run in runs if run.course == course]
    lot = random.Random(seed)
    truths = list(dict.fromkeys(draw_layout(course, [run.truth for run in mine], lot) for _ in range(layouts)))
    if len(truths) < 2:
        raise UsageError("this course allows only one layout, so nothing can be chosen", where=f"course '{course.name}'")
    tell: Progress = progress or (lambda *_: None)
    model = fit_robot(mine, intervals=False)
    trial = _Trial(mine[0], strategies, evaluator or SettingsSweep())
    start = physics_like(model, course)
    for faster in FASTER:
        physics = replace(start, speed_cm_s=start.speed_cm_s * faster, ramp_cm_s2=start.ramp_cm_s2 * faster**2)
        found = []
        for number, truth in enumerate(truths, start=1):
            found.append(trial.drive(truth, physics, 0))
            tell(f"layouts driven x {faster:g}", number, len(truths))
        if max(layout.bits for layout in found) > TELLS:
            break
    finalists = sorted(found, key=lambda layout: -layout.bits)[:FINALISTS]
    again = [trial.drive(layout.truth, physics, FRESH, 3 * SEEDS) for layout in finalists]
    best = max(again, key=lambda layout: layout.bits)
    speed = model.speed_cm_s.value
    by_lot = float(np.mean([layout.bits for layout in found]))
    return NextRun(best, by_lot, len(found), faster, None if speed is None else speed * faster)


@dataclass(frozen=True, slots=True)
class _Trial:
    """``like``: a run whose course and palette are used."""

    like: SavedRun
    strategies: Mapping[str, Strategy]
    judge: SettingsSweep

    def drive(self, truth: Truth, physics: Physics, first: int, count: int = SEEDS) -> ProposedLayout:
        """Simulated runs on a layout, seeds from ``first``."""
        driven = driven_like(physics, self.like.course, count, truth, first=first)
        runs = [replace(run, palette=self.like.palette) for run in driven]
        right, slots = {}, {}
        for name, strategy in self.strategies.items():
            outcomes = self.judge.outcomes(runs, [strategy])
            right[name] = float(outcomes.right.mean())
            wrong = Counter(
                slot.name for mask in outcomes.open_slots[:, 0].tolist()
                for number, slot in enumerate(self.like.course.slots) if mask >> number & 1
            )  # fmt: skip
            slots[name] = wrong.most_common(1)[0][0] if wrong and right[name] < 1.0 else ""
        return ProposedLayout(truth, information(np.array(list(right.values()))), right, slots)


def information(shares: Floats) -> float:
    """Bits that one run's outcome tells about which strategy it came from, all alike likely before; of a single one, how
    open its outcome is.
    """
    if len(shares) == 1:
        return float(_entropy(shares)[0])
    return float(_entropy(shares.mean(keepdims=True))[0] - _entropy(shares).mean())


def _entropy(share: Floats) -> Floats:
    inside = np.clip(share, 1e-12, 1.0 - 1e-12)
    out: Floats = -(inside * np.log2(inside) + (1.0 - inside) * np.log2(1.0 - inside))
    return out
