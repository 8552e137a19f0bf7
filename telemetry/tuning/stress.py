"""How far from what was recorded a strategy still reads right: altered recordings, replayed until they fail.

Altered, not recorded: what comes out is a prediction. All runs are altered, those too that are wrong as recorded: who looks
at the right ones alone takes their luck along, and the altered copy, which keeps the noise that was recorded, stays right
where the robot, driven again, would not. Of each direction the share of altered runs that are right falls as one goes on; it
is made monotone by pooling adjacent violators (Ayer et al., Annals of Mathematical Statistics 26, 1955), so that one lucky
or unlucky step does not make the margin. The margin is where it falls below 95 % of what it is as recorded.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from telemetry.calibrate.outlook import fall_off
from telemetry.errors import StrategyError
from telemetry.reading.strategy import Strategy
from telemetry.sample import IntColumn
from telemetry.tuning.alter import Alterer
from telemetry.tuning.code_rule import learn_rule
from telemetry.tuning.directions import DIRECTIONS, Direction, lacking
from telemetry.tuning.evaluate import SettingsSweep
from telemetry.tuning.robot_model import RobotModel, fit_robot
from telemetry.tuning.runs import SavedRun
from telemetry.tuning.tries import Progress
from telemetry.tuning.unseen import BAD, GOOD, LIKELY, WASHED_OUT, Unseen

RIGHT_SHARE = 0.95
"""Of as many as are right as recorded."""
ENOUGH_COPIES = 100
"""So many altered copies of all runs together are enough at each value; of few runs up to MOST_SEEDS are made each."""
MOST_SEEDS = 3
BATCH = 256
"""So many altered copies are in memory at once."""
FINER = 4
"""So many values are put between the last that holds and the first that fails."""
BOOTSTRAPS = 400
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Margin:
    """One direction. ``right_up_to`` None: nothing failed up to ``searched_to``. ``values`` and ``shares``: what was tried,
    as a coach reads it, and how many runs are right there, as a share of those right as recorded. ``first_failure``:
    (recording, slot), of the runs right as recorded.
    """

    of: str
    unit: str
    what: str
    recorded: float | None
    right_up_to: float | None
    interval95: tuple[float, float] | None
    first_failure: tuple[str, str] | None
    searched_to: float
    values: tuple[float, ...]
    shares: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class DirectionPair:
    """Two directions at once: ``shares[i][k]``, how many runs are right at ``first_values[i]`` and ``second_values[k]``, as
    a share of those right as recorded.
    """

    first: str
    second: str
    first_values: tuple[float, ...]
    second_values: tuple[float, ...]
    shares: tuple[tuple[float, ...], ...]
    right_up_to: tuple[float | None, ...]
    """For each value of the second: the first's margin; None: no failure seen."""


@dataclass(frozen=True, slots=True)
class Stress:
    """``runs`` are those right as recorded, of ``judged``; ``not_possible``: (direction, why)."""

    strategy: str
    runs: int
    judged: int
    margins: tuple[Margin, ...]
    pairs: tuple[DirectionPair, ...]
    not_possible: tuple[tuple[str, str], ...]
    simulated: bool
    code_agrees: float | None = None
    model: RobotModel | None = field(default=None, repr=False)


class Stresser:
    """A strategy on runs that say something about it. Raises StrategyError where it reads none right."""

    def __init__(
        self, runs: Sequence[SavedRun], strategy: Strategy, *, evaluator: SettingsSweep | None = None,
        progress: Progress | None = None, seeds: int | None = None,
    ) -> None:  # fmt: skip
        self.judge = evaluator or SettingsSweep()
        self.strategy = strategy
        self.tell: Progress = progress or (lambda *_: None)
        base = self.judge.outcomes(runs, [strategy])
        self.runs = [run for run, counts in zip(runs, base.counts[:, 0], strict=True) if counts]
        self.right = base.right[base.counts[:, 0], 0]
        if not self.right.any():
            raise StrategyError(
                f"strategy '{strategy.name}' reads none of {len(runs)} runs right as they are, so there is no margin",
                todo="'sidelong compare' says which strategy reads them, 'sidelong tune' which settings do.",
            )
        self.seeds = seeds or max(1, min(MOST_SEEDS, ENOUGH_COPIES // len(self.runs)))
        self.tell("the robot's model fitted", 0, 1)
        self.model = fit_robot(runs, intervals=False)
        self.rule = learn_rule(runs)
        self.power = fall_off(runs[0].palette)

    def right_at(
        self, steps: Sequence[tuple[Direction, float]], unseen: Unseen = LIKELY
    ) -> tuple[Floats, IntColumn]:
        """(runs,) share of altered copies that are right with all ``steps`` at once; and masks of slots that failed."""
        signs = [(1.0, -1.0) if direction.both and value else (1.0,) for direction, value in steps]
        wanted = [
            (k, seed, sign) for k in range(len(self.runs)) for seed in range(self.seeds)
            for sign in np.stack(np.meshgrid(*signs), axis=-1).reshape(-1, len(steps)).tolist()
        ]  # fmt: skip
        if self.power is not None:
            unseen = unseen.falling(self.power)
        alterer = Alterer(self.model, self.rule, unseen)
        right = np.ones((len(self.runs), self.seeds), np.bool_)
        failed = np.zeros(len(self.runs), np.int64)
        for first in range(0, len(wanted), BATCH):
            batch = wanted[first : first + BATCH]
            copies = [
                self._altered(k, seed, alterer, [(one, value * way) for (one, value), way in zip(steps, sign, strict=True)])
                for k, seed, sign in batch
            ]
            found = self.judge.outcomes(copies, [self.strategy])
            for (k, seed, _), good, slots in zip(batch, found.right[:, 0], found.open_slots[:, 0], strict=True):
                right[k, seed] &= good
                failed[k] |= 0 if good else slots
        return right.mean(axis=1), failed

    def _altered(self, k: int, seed: int, alterer: Alterer, steps: Sequence[tuple[Direction, float]]) -> SavedRun:
        rng = np.random.default_rng([seed, k])
        altered = self.runs[k]
        for direction, value in steps:
            altered = direction.alter(alterer, altered, value, rng)
        return altered

    def margin(self, direction: Direction) -> Margin:
        """How far one direction goes."""
        values, shares, failures = self.tried(direction, LIKELY, FINER)
        found = crossing(values, shares.mean(axis=1))
        return Margin(
            direction.name, direction.unit, direction.what, direction.recorded(self.model),
            None if found is None else direction.shown(self.model, found), self._interval(direction, values, shares),
            self._first_failure(failures), direction.shown(self.model, float(values[-1])),
            tuple(direction.shown(self.model, float(value)) for value in values),
            tuple(relative(shares.mean(axis=1)).tolist()),
        )  # fmt: skip

    def tried(self, direction: Direction, unseen: Unseen, finer: int) -> tuple[Floats, Floats, dict[float, IntColumn]]:
        """Values from as recorded until most fails, with ``finer`` more where it begins to: (values,), shares (values, runs)
        of copies right, and what failed at each.
        """
        tried: dict[float, Floats] = {direction.ladder[0]: self.right.astype(np.float64)}
        failures: dict[float, IntColumn] = {}
        total = len(direction.ladder) + finer
        for number, value in enumerate(direction.ladder[1:], start=1):
            tried[value], failures[value] = self.right_at([(direction, value)], unseen)
            self.tell(direction.name, number, total)
            if tried[value].mean() < (RIGHT_SHARE - 0.2) * self.right.mean():
                break
        held, fails = _bracket(tried)
        if fails is not None:
            step = (fails - held) / (finer + 1)
            for number in range(1, finer + 1):
                value = held + number * step
                tried[value], failures[value] = self.right_at([(direction, value)], unseen)
                self.tell(direction.name, total - finer + number, total)
        self.tell(direction.name, total, total)
        values = np.array(sorted(tried))
        return values, np.stack([tried[value] for value in values]), failures

    def _interval(self, direction: Direction, values: Floats, shares: Floats) -> tuple[float, float] | None:
        """Over runs drawn anew, and between the ends of what recordings cannot show. None where nothing
        failed, or of one run, of whose luck nothing is known.
        """
        if shares.shape[1] < 2 or crossing(values, shares.mean(axis=1)) is None:
            return None
        ends = [(values, shares)]
        if direction.unseen:
            ends = [self.tried(direction, unseen, 1)[:2] for unseen in (BAD, WASHED_OUT, GOOD)] + ends
        spans = [drawn_anew(*one) for one in ends]
        low, high = min(low for low, _ in spans), max(high for _, high in spans)
        return direction.shown(self.model, low), direction.shown(self.model, high)

    def _first_failure(self, failures: dict[float, IntColumn]) -> tuple[str, str] | None:
        for value in sorted(failures):
            for k in np.flatnonzero(self.right & (failures[value] != 0)).tolist():
                slot = int(failures[value][k]) & -int(failures[value][k])
                return self.runs[k].name, self.runs[k].course.slots[slot.bit_length() - 1].name
        return None

    def pair(self, first: tuple[Direction, Margin], second: tuple[Direction, Margin], steps: int = 6) -> DirectionPair:
        """The first's margin at some values of the second; both tried to half as far again as each goes alone."""
        across = self._spread(*second, steps)
        down = self._spread(*first, 2 * steps)
        found = self._pair(first[0], second[0], down, across)
        # At the second's recorded value the first was tried alone, more finely.
        return replace(found, right_up_to=(first[1].right_up_to, *found.right_up_to[1:]))

    def _spread(self, direction: Direction, alone: Margin, count: int) -> list[float]:
        start, last = direction.ladder[0], direction.ladder[-1]
        if alone.right_up_to is not None and direction.scales:
            last = min(last, 1.5 * max(1.1, alone.right_up_to / (direction.recorded(self.model) or 1.0)))
        space = np.geomspace if direction.scales else np.linspace
        return [float(value) for value in space(start, last, count)]

    def _pair(self, first: Direction, second: Direction, down: list[float], across: list[float]) -> DirectionPair:
        shares = np.ones((len(down), len(across)))
        for k, other in enumerate(across):
            for i, value in enumerate(down):
                shares[i, k] = self.right_at([(first, value), (second, other)])[0].mean() / self.right.mean()
                self.tell(f"{first.name} and {second.name}", k * len(down) + i + 1, len(down) * len(across))
                if shares[i, k] < 0.5:
                    shares[i + 1 :, k] = 0.0
                    break
        shares = np.minimum(np.stack([monotone(column) for column in shares.T], axis=1), 1.0)
        margins = []
        for column in shares.T:
            found = crossing(np.array(down), column, 1.0)
            margins.append(None if found is None else first.shown(self.model, found))
        self.tell(f"{first.name} and {second.name}", len(down) * len(across), len(down) * len(across))
        return DirectionPair(
            first.name, second.name, tuple(first.shown(self.model, value) for value in down),
            tuple(second.shown(self.model, value) for value in across), tuple(tuple(row) for row in shares.tolist()),
            tuple(margins),
        )  # fmt: skip


def stress(
    runs: Sequence[SavedRun],
    strategy: Strategy,
    *,
    directions: Sequence[Direction] = DIRECTIONS,
    pairs: bool = True,
    evaluator: SettingsSweep | None = None,
    progress: Progress | None = None,
    seeds: int | None = None,
) -> Stress:
    """Every direction's margin, and speed with height. Raises StrategyError where no run is read right as it is."""
    one = Stresser(runs, strategy, evaluator=evaluator, progress=progress, seeds=seeds)
    why = {direction.name: lacking(direction, one.runs) for direction in directions}
    able = [direction for direction in directions if not why[direction.name]]
    margins = tuple(one.margin(direction) for direction in able)
    by_name = {direction.name: (direction, margin) for direction, margin in zip(able, margins, strict=True)}
    both = pairs and {"speed", "height"} <= by_name.keys()
    found = (one.pair(by_name["speed"], by_name["height"]),) if both else ()
    return Stress(
        strategy.name, int(one.right.sum()), len(one.runs), margins, found,
        tuple((name, words) for name, words in why.items() if words), any(run.simulated for run in runs),
        None if one.rule is None else one.rule.agrees, one.model,
    )  # fmt: skip


def drawn_anew(values: Floats, shares: Floats) -> tuple[float, float]:
    """95 % of the margins of runs drawn anew (bootstrap); where a drawn set does not fail, the end of the search counts."""
    rng = np.random.default_rng(0)
    found = []
    for _ in range(BOOTSTRAPS):
        drawn = shares[:, rng.integers(0, shares.shape[1], shares.shape[1])].mean(axis=1)
        one = crossing(values, drawn)
        found.append(float(values[-1]) if one is None else one)
    low, high = np.percentile(found, [2.5, 97.5])
    return float(low), float(high)


def monotone(shares: Floats) -> Floats:
    """The nearest row that never rises: adjacent violators pooled."""
    blocks: list[tuple[float, int]] = []
    for share in shares.tolist():
        blocks.append((share, 1))
        while len(blocks) > 1 and blocks[-2][0] < blocks[-1][0]:
            (a, m), (b, n) = blocks[-2:]
            blocks[-2:] = [((a * m + b * n) / (m + n), m + n)]
    return np.concatenate([np.full(count, value) for value, count in blocks])


def relative(shares: Floats) -> Floats:
    """The monotone share, in parts of what it is at the first value."""
    even = monotone(shares)
    out: Floats = even / max(float(even[0]), 1e-9)
    return out


def crossing(values: Floats, shares: Floats, whole: float | None = None) -> float | None:
    """Where the monotone share falls below RIGHT_SHARE of ``whole``, between two values that were tried; None where it does
    not. ``whole`` None: of what it is at the first value.
    """
    even = relative(shares) if whole is None else monotone(shares) / whole
    below = np.flatnonzero(even < RIGHT_SHARE - 1e-9)
    if not len(below):
        return None
    k = int(below[0])
    if k == 0:
        return float(values[0])
    part = (even[k - 1] - RIGHT_SHARE) / (even[k - 1] - even[k])
    return float(values[k - 1] + part * (values[k] - values[k - 1]))


def _bracket(tried: dict[float, Floats]) -> tuple[float, float | None]:
    values = np.array(sorted(tried))
    even = relative(np.array([tried[value].mean() for value in values]))
    below = np.flatnonzero(even < RIGHT_SHARE - 1e-9)
    if not len(below):
        return float(values[-1]), None
    return float(values[max(0, int(below[0]) - 1)]), float(values[int(below[0])])

