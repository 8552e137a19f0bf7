"""As margins_anew.py, on robots that Sidelong was not made on: ``python tests/tuning/margins_foreign.py [SETUPS] [RUNS]``.

The generators of tests/physics drive the same runs anew, faster or with the sensor higher. All simulated.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
from physics.cases import GENERATORS, only, palette_of

from telemetry.errors import SidelongError
from telemetry.reading.load import load_strategy
from telemetry.reading.strategy import Strategy
from telemetry.tuning.directions import Direction, asked_directions
from telemetry.tuning.evaluate import SettingsSweep
from telemetry.tuning.runs import SavedRun
from telemetry.tuning.stress import RIGHT_SHARE, Stresser, crossing


def driven(generator: str, level: str, setup: int, seeds: list[int], of: str = "", value: float = 1.0) -> list[SavedRun]:
    """Runs of one set-up, with one thing of the level changed."""
    made: Any = GENERATORS[generator].make(setup, level)
    if of == "height":
        made.level = replace(made.level, height=tuple(value * end for end in made.level.height))
    elif of == "speed":
        motion = replace(made.level.motion, speed=tuple(value * end for end in made.level.motion.speed))
        made.level = replace(made.level, motion=motion)
    palette = palette_of(generator, setup, level, False)
    runs = []
    for seed in seeds:
        table, truth = made.drive(seed)
        runs.append(SavedRun(f"{setup}-{seed}", only(table, "raw"), made.course, truth, palette, simulated=True))
    return runs


def anew(
    place: tuple[str, str, int], strategy: Strategy, direction: Direction, seeds: list[int], judge: SettingsSweep
) -> float | None:
    """The factor up to which these runs stay right when driven anew."""
    values, shares = [1.0], [1.0]
    for value in np.geomspace(1.0, direction.ladder[-1], 25)[1:].tolist():
        values.append(value)
        shares.append(float(judge.outcomes(driven(*place, seeds, direction.name, value), [strategy]).right.mean()))
        if shares[-1] < RIGHT_SHARE - 0.3:
            break
    return crossing(np.array(values), np.array(shares))


def main(setups: int, count: int) -> None:
    judge = SettingsSweep()
    for generator, level in (("spectral", "lab"), ("regulated", "lab"), ("spectral", "hall"), ("regulated", "shop")):
        for name in ("map-and-list", "evidence"):
            strategy = load_strategy(name)
            for setup in range(setups):
                runs = driven(generator, level, setup, list(range(count)))
                try:
                    one = Stresser(runs, strategy, evaluator=judge)
                except SidelongError as error:
                    print(generator, level, name, setup, error)
                    continue
                seeds = [int(run.name.split("-")[1]) for run in one.runs]
                for direction in asked_directions("speed,height"):
                    found = one.margin(direction).right_up_to
                    predicted = None if found is None else found / (direction.recorded(one.model) or 1.0)
                    true = anew((generator, level, setup), strategy, direction, seeds, judge)
                    off = "" if not predicted or not true else f"{predicted / true - 1:+.0%}"
                    print(
                        f"{generator:<10}{level:<9}{name[:12]:<13}set-up {setup}: {len(seeds):>2} of {count}  "
                        f"{direction.name:<7}predicted x {predicted or np.nan:.2f}  driven anew x {true or np.nan:.2f}  "
                        f"{off}", flush=True,
                    )  # fmt: skip


if __name__ == "__main__":
    main(*(int(word) for word in (*sys.argv[1:3], *("3", "12")[len(sys.argv) - 1 :])))
