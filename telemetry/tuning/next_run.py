"""Which layout to set up next: the one that tells most about what is still open, by driving the fitted robot on many.

What a run tells is its expected information (Lindley, Annals of Mathematical Statistics 27, 1956): how many bits its
outcome, right or wrong, says on the average about which of the tied strategies it came from. With one strategy alone: about
whether it reads such a layout right at all. All is simulated, by the built-in robot made like the recorded one.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from telemetry.course import Truth
from telemetry.course.lot import draw_layout
from telemetry.errors import UsageError
from telemetry.reading.strategy import Strategy
from telemetry.sources.synthetic.physics import Physics
from telemetry.tuning.evaluate import Outcomes, SettingsSweep
from telemetry.tuning.like import driven_like, physics_like
from telemetry.tuning.robot_model import fit_robot
from telemetry.tuning.runs import SavedRun
from telemetry.tuning.tries import Progress

LAYOUTS = 40
LOOKED_AT = 10
"""So many of the layouts show whether anything fails at a speed."""
HALVES = ((LAYOUTS, 4), (12, 8), (5, 24))
"""(layouts still in the running, drives of each): the worse ones drop out as it gets surer (sequential halving: Karnin,
Koren and Somekh, ICML 2013, from memory)."""
FRESH = 1000
"""The best few of many are flattered, so the last of HALVES are drives with seeds from here on."""
BY_LOT = 4
"""So many layouts drawn by lot are driven as often as the last, to be held beside the best."""
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
    """``best``: what to set up; ``by_lot``: mean bits of a layout drawn by lot, None where that was not reached;
    ``layouts``: of how many driven, ``faster``: so many times the recorded speed; ``drives``: of the best layout, simulated,
    that its figures come from. ``stopped``: before all was done, so the best may be flattered.
    """

    best: ProposedLayout
    by_lot: float | None
    layouts: int
    faster: float
    speed_cm_s: float | None
    drives: int
    stopped: bool = False


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
    search = LayoutSearch(runs, strategies, evaluator=evaluator, progress=progress, layouts=layouts, seed=seed)
    search.go_on()
    found = search.so_far(stopped=False)
    assert found is not None
    return found


class LayoutSearch:
    """What ``next_run`` does, that can be stopped: ``so_far`` says what is known when ``go_on`` was left by an exception."""

    def __init__(
        self, runs: Sequence[SavedRun], strategies: Mapping[str, Strategy], *, evaluator: SettingsSweep | None = None,
        progress: Progress | None = None, layouts: int = LAYOUTS, seed: int = 0,
    ) -> None:  # fmt: skip
        if not strategies:
            raise UsageError("there is no strategy to tell anything about", todo="Name one or more with --strategy.")
        course = runs[0].course
        self._mine = [run for run in runs if run.course == course]
        lot = random.Random(seed)
        drawn = (draw_layout(course, [run.truth for run in self._mine], lot) for _ in range(layouts))
        self._truths = list(dict.fromkeys(drawn))
        if len(self._truths) < 2:
            raise UsageError(
                "this course allows only one layout, so nothing can be chosen", where=f"course '{course.name}'"
            )
        self._strategies = strategies
        self._judge = evaluator or SettingsSweep()
        self._tell: Progress = progress or (lambda *_: None)
        self._tallies: list[_Tally] = []
        self._by_lot: float | None = None
        self._faster = 1.0
        self._layouts = 0
        self._speed: float | None = None

    def go_on(self) -> None:
        """Fit, find a speed at which something fails, and drive the layouts, fewer and fewer of them the surer it gets."""
        self._tell("the robot's model fitted", 0, 1)
        model = fit_robot(self._mine, intervals=False)
        self._speed = model.speed_cm_s.value
        start = physics_like(model, self._mine[0].course)
        (_, each), *later, (last, most) = HALVES
        for self._faster in FASTER:
            physics = replace(
                start, speed_cm_s=start.speed_cm_s * self._faster, ramp_cm_s2=start.ramp_cm_s2 * self._faster**2
            )
            self._tallies = []
            self._drive([_Tally(truth) for truth in self._truths[:LOOKED_AT]], physics, each)
            if max(one.bits for one in self._tallies) > TELLS:
                break
        else:
            later, last = [], 1  # nothing fails: one layout driven often is enough to say so
        if later:
            self._drive([_Tally(truth) for truth in self._truths[LOOKED_AT:]], physics, each)
        for left, more in later:
            self._drive(self._best()[:left], physics, more)
        # On fresh seeds, for the best of many are flattered; and a few by lot as often, to be held beside them.
        finalists = [_Tally(one.truth) for one in self._best()[:last]]
        self._drive(finalists, physics, most, FRESH, into=[])
        self._tallies = finalists
        if later:
            some = [_Tally(truth) for truth in self._truths[:BY_LOT]]
            self._drive(some, physics, most, FRESH, into=[])
            self._by_lot = float(np.mean([one.bits for one in some]))

    def so_far(self, *, stopped: bool = True) -> NextRun | None:
        """What is known; None where no layout was driven yet."""
        driven = [one for one in self._best() if one.drives]
        if not driven:
            return None
        surest = max(one.drives for one in driven)
        best = next(one for one in driven if one.drives == surest)
        speed = None if self._speed is None else self._speed * self._faster
        return NextRun(
            best.layout(self._mine[0]), self._by_lot, self._layouts, self._faster, speed, best.drives, stopped
        )

    def _best(self) -> list[_Tally]:
        return sorted(self._tallies, key=lambda one: -one.bits)

    def _drive(
        self, tallies: Sequence[_Tally], physics: Physics, count: int, first: int | None = None,
        into: list[_Tally] | None = None,
    ) -> None:  # fmt: skip
        """Each layout ``count`` times more, on seeds of its own after those it had, or from ``first`` on."""
        kept = self._tallies if into is None else into
        like = self._mine[0]
        for number, tally in enumerate(tallies, start=1):
            seed = tally.drives if first is None else first
            driven = driven_like(physics, like.course, count, tally.truth, first=seed)
            runs = [replace(run, palette=like.palette) for run in driven]
            tally.add({name: self._judge.outcomes(runs, [strategy]) for name, strategy in self._strategies.items()}, count)
            if tally not in kept:
                kept.append(tally)
            if into is None:
                self._layouts = len(kept)
            self._tell(f"layouts driven {seed % FRESH + count} times, x {self._faster:g}", number, len(tallies))


@dataclass(eq=False)
class _Tally:
    """What became of the drives on one layout: strategy -> how many were right, and which slots failed how often."""

    truth: Truth
    drives: int = 0
    right: dict[str, int] = field(default_factory=dict)
    wrong: dict[str, Counter[int]] = field(default_factory=dict)

    def add(self, found: Mapping[str, Outcomes], count: int) -> None:
        """So many more drives, all strategies at once: whoever stops the search finds it whole."""
        right = {name: self.right.get(name, 0) + int(one.right.sum()) for name, one in found.items()}
        wrong = {
            name: self.wrong.get(name, Counter()) + Counter(
                number for mask in one.open_slots[~one.right].tolist() for number in range(mask.bit_length())
                if mask >> number & 1
            ) for name, one in found.items()
        }  # fmt: skip
        self.right, self.wrong, self.drives = right, wrong, self.drives + count

    @property
    def bits(self) -> float:
        """Expected information of one more run."""
        return information(np.array(list(self.right.values())) / max(1, self.drives))

    def layout(self, like: SavedRun) -> ProposedLayout:
        """As it is proposed."""
        slots = like.course.slots
        worst = {name: slots[seen.most_common(1)[0][0]].name if seen else "" for name, seen in self.wrong.items()}
        return ProposedLayout(
            self.truth, self.bits, {name: count / max(1, self.drives) for name, count in self.right.items()}, worst
        )


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
