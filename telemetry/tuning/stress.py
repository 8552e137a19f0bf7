"""How far from what was recorded a strategy still reads right: altered recordings, replayed until they fail.

Altered, not recorded: what comes out is a prediction. All runs are altered, those too that are wrong as recorded: who looks
at the right ones alone takes their luck along, and the altered copy, which keeps the noise that was recorded, stays right
where the robot, driven again, would not. Of each direction the share of altered runs that are right falls as one goes on;
the margin is where it falls below 95 % of what it is as recorded (crossing.py).
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
from telemetry.tuning.crossing import RIGHT_SHARE, bracket, crossing, interval95, relative
from telemetry.tuning.directions import DIRECTIONS, Direction, lacking
from telemetry.tuning.evaluate import SettingsSweep
from telemetry.tuning.pairs import DirectionPair, tried_pair
from telemetry.tuning.robot_model import RobotModel, fit_robot
from telemetry.tuning.runs import SavedRun
from telemetry.tuning.tries import Progress
from telemetry.tuning.unseen import BAD, GOOD, LIKELY, WASHED_OUT, Unseen

ENOUGH_COPIES = 100
"""So many altered copies of all runs together are enough at each value; of few runs up to MOST_SEEDS are made each."""
MOST_SEEDS = 3
MUCH = 1.25
"""A margin that would be so many times as large is another one."""
BATCH = 256
"""So many altered copies are in memory at once."""
FINER = 4
"""So many values are put between the last that holds and the first that fails."""
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
class Stress:
    """``runs`` are those right as recorded, of ``judged``; ``not_possible``: (direction, why). ``rests_on_dark``: directions
    whose margin would be another if the sensor saw darker than assumed, which these recordings do not show.
    """

    strategy: str
    runs: int
    judged: int
    margins: tuple[Margin, ...]
    pairs: tuple[DirectionPair, ...]
    not_possible: tuple[tuple[str, str], ...]
    simulated: bool
    code_agrees: float | None = None
    model: RobotModel | None = field(default=None, repr=False)
    rests_on_dark: tuple[str, ...] = ()


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
        held, fails = bracket(tried)
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
        spans = [interval95(*one) for one in ends]
        low, high = min(low for low, _ in spans), max(high for _, high in spans)
        return direction.shown(self.model, low), direction.shown(self.model, high)

    def rests_on_dark(self, direction: Direction, margin: Margin) -> bool:
        """Whether a margin would be another if the sensor saw much darker: no recording shows below which level it says
        none, and a colour that it reads at the margin as assumed would not be taken for none then.
        """
        if self.rule is None or self.rule.shows_dark or not direction.dims or margin.right_up_to is None:
            return False
        value = margin.right_up_to / (direction.recorded(self.model) or 1.0) * MUCH
        right, _ = self.right_at([(direction, value)], replace(LIKELY, dark=0.0))
        return float(right.mean()) >= RIGHT_SHARE * float(self.right.mean())

    def _first_failure(self, failures: dict[float, IntColumn]) -> tuple[str, str] | None:
        return next((found for value in sorted(failures) if (found := self.failed_first(failures[value]))), None)

    def failed_first(self, failed: IntColumn) -> tuple[str, str] | None:
        """(recording, slot) of the first run right as recorded that is no longer, of masks as ``right_at`` gives them."""
        for k in np.flatnonzero(self.right & (failed != 0)).tolist():
            slot = int(failed[k]) & -int(failed[k])
            return self.runs[k].name, self.runs[k].course.slots[slot.bit_length() - 1].name
        return None

    def pair(self, first: tuple[Direction, Margin], second: tuple[Direction, Margin], steps: int = 6) -> DirectionPair:
        """The first's margin at some values of the second; both tried to half as far again as each goes alone."""
        across = self._spread(*second, steps)
        down = self._spread(*first, 2 * steps)
        grid = tried_pair(self, (first[0], down), (second[0], across))
        # At the second's recorded value the first was tried alone, more finely.
        return grid.said(self.model, alone=first[1].right_up_to)

    def _spread(self, direction: Direction, alone: Margin, count: int) -> list[float]:
        start, last = direction.ladder[0], direction.ladder[-1]
        if alone.right_up_to is not None and direction.scales:
            last = min(last, 1.5 * max(1.1, alone.right_up_to / (direction.recorded(self.model) or 1.0)))
        space = np.geomspace if direction.scales else np.linspace
        return [float(value) for value in space(start, last, count)]


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
        tuple(direction.name for direction, margin in by_name.values() if one.rests_on_dark(direction, margin)),
    )  # fmt: skip
