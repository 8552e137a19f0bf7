"""Do margins from altered recordings hold? ``python tests/tuning/margins_anew.py [RUNS] [STRATEGY...]``: minutes.

At each level of the built-in robot the margin that altering predicts beside the one found by driving the same runs anew with
the speed, the height or the lamp changed. All simulated; the same runs (seeds) for both, so chance of drawing is in neither.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
from telemetry.reading.load import load_strategy
from telemetry.reading.strategy import Strategy
from telemetry.sources.synthetic.levels import LEVELS
from telemetry.sources.synthetic.physics import Physics
from telemetry.tuning.directions import Direction, asked_directions
from telemetry.tuning.evaluate import SettingsSweep
from telemetry.tuning.stress import FINER, RIGHT_SHARE, Stresser, crossing, monotone
from tuning.made_runs import made

ONLY = "speed,height,light"
CHANGED: dict[str, Callable[[Physics, float], Physics]] = {
    # Ramps too, else the legs are too short to become fast on.
    "speed": lambda world, value: replace(
        world, speed_cm_s=world.speed_cm_s * value, ramp_cm_s2=world.ramp_cm_s2 * value**2
    ),
    "height": lambda world, value: replace(world, height_mm=world.height_mm * value),
    "light": lambda world, value: replace(world, height_nominal_mm=world.height_nominal_mm / value**0.5),
}


def margin_anew(
    level: str,
    strategy: Strategy,
    direction: Direction,
    seeds: list[int],
    judge: SettingsSweep,
    physics: Physics | None = None,
) -> float | None:
    """The factor up to which the runs ``seeds``, which are right as they are, stay right when driven anew."""
    world = physics or LEVELS[level].physics

    def share(value: float) -> float:
        runs = [made(level, seed, CHANGED[direction.name](world, value)) for seed in seeds]
        return float(judge.outcomes(runs, [strategy]).right.mean())

    tried = {direction.ladder[0]: 1.0}
    for value in direction.ladder[1:]:
        tried[value] = share(value)
        if tried[value] < RIGHT_SHARE - 0.2:
            break
    values = np.array(sorted(tried))
    below = np.flatnonzero(monotone(np.array([tried[value] for value in values])) < RIGHT_SHARE)
    if len(below):
        low, high = values[below[0] - 1], values[below[0]]
        for number in range(1, FINER + 1):
            value = float(low + number * (high - low) / (FINER + 1))
            tried[value] = share(value)
    values = np.array(sorted(tried))
    return crossing(values, np.array([tried[value] for value in values]))


def main(count: int, names: list[str]) -> None:
    for level in ("practice", "venue", "extreme"):
        runs = {seed: made(level, seed) for seed in range(count)}
        for name in names:
            strategy = load_strategy(name)
            judge = SettingsSweep()
            one = Stresser(list(runs.values()), strategy, evaluator=judge)
            right = [int(run.name.split("-")[1]) for run in one.runs]
            for direction in asked_directions(ONLY):
                found = one.margin(direction)
                start = direction.recorded(one.model) or 1.0
                predicted = None if found.right_up_to is None else found.right_up_to / start
                anew = margin_anew(level, strategy, direction, right, judge)
                off = "" if not predicted or not anew else f"{predicted / anew - 1:+.0%}"
                told = "-" if found.interval95 is None else "..".join(f"{value / start:.2f}" for value in found.interval95)
                print(
                    f"{level:<9} {name:<13} {len(right):>3} runs  {direction.name:<7} predicted x {predicted or np.nan:.2f} "
                    f"({told})  driven anew x {anew or np.nan:.2f}  {off}", flush=True,
                )  # fmt: skip


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40, sys.argv[2:] or ["map-and-list", "evidence"])
