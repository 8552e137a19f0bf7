"""Do margins from altered recordings hold? ``python tests/tuning/margins_anew.py RUNS WORLD... [--only WHAT]``: minutes.

In each world (worlds.py) the margin that altering predicts beside the one found by driving the same layouts anew with the
speed, the height or the lamp changed. Over all runs of all set-ups together; 95 % intervals of the ratio by drawing runs
anew. Fresh set-ups: ``--first N``. All simulated.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parents[1]))
from telemetry.reading.load import load_strategy
from telemetry.tuning.alter import Alterer
from telemetry.tuning.code_rule import learn_rule
from telemetry.tuning.crossing import crossing, relative
from telemetry.tuning.directions import asked_directions
from telemetry.tuning.evaluate import SettingsSweep
from telemetry.tuning.robot_model import fit_robot
from tuning.worlds import WORLDS, World

STRATEGIES = ("map-and-list", "windows", "evidence")
STEPS = {"speed": 8.0, "height": 4.0, "light": 16.0}
COUNT = 20
DRAWS = 2
"""So many times the runs are driven anew, for what is found so is the reference."""
BOOTSTRAPS = 400
Floats = NDArray[np.float64]


def curves(
    world: World, of: str, count: int, judge: SettingsSweep, names: Sequence[str] = STRATEGIES, steps: int = COUNT
) -> tuple[Floats, dict[str, tuple[Floats, Floats]]]:
    """Values, and of each strategy (runs, values) right: as predicted by altering, and as driven anew."""
    direction = asked_directions(of)[0]
    values = np.geomspace(1.0, STEPS[of], steps)
    places = {setup: world.driven(setup, range(count)) for setup in world.setups}
    makers = {setup: Alterer(fit_robot(runs, intervals=False), learn_rule(runs)) for setup, runs in places.items()}
    strategies = {name: load_strategy(name) for name in names}
    found: dict[str, list[tuple[Floats, Floats]]] = {name: [] for name in names}
    over: set[str] = set()
    for value in values.tolist():
        altered, anew = [], []
        for setup, runs in places.items():
            rng = [np.random.default_rng([setup, k]) for k in range(count)]
            altered += runs if value == 1.0 else [
                direction.alter(makers[setup], run, value, one) for run, one in zip(runs, rng, strict=True)
            ]
            anew += world.driven(setup, range(count * DRAWS), of, value)
        for name in [name for name in strategies if name not in over]:
            right = [judge.outcomes(some, [strategies[name]]).right[:, 0].astype(float) for some in (altered, anew)]
            found[name].append((right[0], right[1]))
            if max(one.mean() for one in right) < 0.6 * found[name][0][0].mean():
                over.add(name)
        if len(over) == len(strategies):
            break
    out = {}
    for name, columns in found.items():
        out[name] = (np.stack([one for one, _ in columns], axis=1), np.stack([two for _, two in columns], axis=1))
    return values, out


def mean_margin(values: Floats, right: Floats) -> float:
    """The geometric mean of the runs' margins, as far as was tried: steadier than where the first five per cent fail."""
    shares = relative(right.mean(axis=0))
    return float(np.exp(np.trapezoid(shares, np.log(values[: len(shares)]))))


def ratio_of(values: Floats, predicted: Floats, anew: Floats) -> tuple[float, float, float, tuple[float, float]]:
    """Both margins and their ratio with its interval; where nothing fails the end counts."""

    def both(rng: np.random.Generator | None) -> tuple[float, float]:
        ends = []
        for one in (predicted, anew):
            rows = np.arange(len(one)) if rng is None else rng.integers(0, len(one), len(one))
            ends.append(crossing(values[: one.shape[1]], one[rows].mean(axis=0)) or float(values[-1]))
        return ends[0], ends[1]

    first, second = both(None)
    rng = np.random.default_rng(0)
    drawn = [both(rng) for _ in range(BOOTSTRAPS)]
    low, high = np.percentile([a / b for a, b in drawn], [2.5, 97.5]).tolist()
    return first, second, first / second, (low, high)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("runs", type=int)
    parser.add_argument("worlds", nargs="*", default=list(WORLDS))
    parser.add_argument("--only", default="speed,height,light")
    parser.add_argument("--strategies", default=",".join(STRATEGIES))
    parser.add_argument("--first", type=int, default=0, help="the first set-up")
    parser.add_argument("--setups", type=int, help="how many set-ups")
    parser.add_argument("--keep", type=Path, help="curves, as JSON lines")
    args = parser.parse_args()
    judge = SettingsSweep()
    for name in args.worlds or WORLDS:
        world = WORLDS[name]
        many = args.setups or len(world.setups)
        world = replace(world, setups=range(args.first, args.first + (1 if world.generator == "built-in" else many)))
        count = args.runs if world.generator != "built-in" else args.runs * 8
        for of in args.only.split(","):
            if of not in world.directions:
                continue
            values, found = curves(world, of, count, judge, args.strategies.split(","))
            for strategy, (predicted, anew) in found.items():
                base = predicted[:, 0].mean()
                if args.keep:
                    with args.keep.open("a") as file:
                        file.write(json.dumps({
                            "world": name, "of": of, "strategy": strategy, "values": values.tolist(),
                            "predicted": predicted.astype(int).tolist(), "anew": anew.astype(int).tolist(),
                        }) + "\n")  # fmt: skip
                if base < 0.3:
                    print(f"{name:<15}{strategy:<13}{of:<7} {base:.0%} of {len(predicted)} right: no margin", flush=True)
                    continue
                one, two, ratio, (low, high) = ratio_of(values, predicted, anew)
                print(
                    f"{name:<15}{strategy:<13}{of:<7} {base:>4.0%} of {len(predicted):<4} predicted x {one:5.2f}  "
                    f"anew x {two:5.2f}  {ratio - 1:+4.0%}  ({low - 1:+.0%} to {high - 1:+.0%}); mean margin "
                    f"{mean_margin(values, predicted) / mean_margin(values, anew) - 1:+.0%}", flush=True,
                )  # fmt: skip


if __name__ == "__main__":
    main()
